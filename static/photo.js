// A photo is made smaller before it is sent: less to wait for in a shop with a weak network. Where
// that does not work the photo goes as it is, and the server does the same.

import { all } from "./dom.js";

const LONGEST_SIDE = 2048;
const QUALITY = 0.85;

/** The picture of a file, no larger than is sent: { blob, width, height }. */
export const smaller = async (file) => {
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * scale);
  canvas.height = Math.round(picture.height * scale);
  const pen = canvas.getContext("2d");
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
  return blob && { blob, width: canvas.width, height: canvas.height };
};

for (const form of all("form.add-photo")) {
  const input = form.querySelector("[type=file]");
  const said = form.querySelector("[data-photo-said]");
  let turn = 0;
  input.addEventListener("change", async () => {
    const mine = ++turn;
    const [file] = input.files;
    said.textContent = "";
    if (!file) return;
    try {
      const made = await smaller(file);
      if (!made || mine !== turn) return;
      const files = new DataTransfer();
      files.items.add(new File([made.blob], "photo.jpg", { type: "image/jpeg" }));
      input.files = files.files;
      said.textContent = `Ready to send: ${made.width} × ${made.height} pixels, ${Math.ceil(made.blob.size / 1024)} KiB.`;
    } catch { /* What this browser cannot draw the server looks at, and says what is wrong with it. */ }
  });
}
