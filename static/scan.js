// Reads a unit's label with the camera. The field beside the button does the same for everybody else.

const button = document.getElementById("scan");
const part = document.getElementById("scanning");
const LOOK_EVERY_MS = 150;
const SAY_AFTER_MS = 20_000;

// Of a label only the code counts: the address on it may be an older one of this server.
const codeOn = (text) => /\/u\/([0-9A-HJKMNP-TV-Z]{8})$/i.exec(text.trim())?.[1];

// What the browser can do itself is quicker; the other decoder is fetched when it is first wanted.
const decoder = async () => {
  if (globalThis.BarcodeDetector && (await BarcodeDetector.getSupportedFormats()).includes("qr_code")) {
    const own = new BarcodeDetector({ formats: ["qr_code"] });
    return async (video) => (await own.detect(video)).map((found) => found.rawValue);
  }
  await import(button.dataset.decoder);
  const canvas = document.createElement("canvas");
  const pen = canvas.getContext("2d", { willReadFrequently: true });
  return async (video) => {
    const scale = Math.min(1, 800 / Math.max(video.videoWidth, video.videoHeight));
    canvas.width = Math.round(video.videoWidth * scale);
    canvas.height = Math.round(video.videoHeight * scale);
    pen.drawImage(video, 0, 0, canvas.width, canvas.height);
    const { data, width, height } = pen.getImageData(0, 0, canvas.width, canvas.height);
    const found = globalThis.jsQR(data, width, height, { inversionAttempts: "dontInvert" });
    return found ? [found.data] : [];
  };
};

const WHY_NOT = {
  NotAllowedError: "The camera is not allowed on this page. Allow it in the browser's settings of this site, or type the number.",
  NotFoundError: "This device has no camera. Type the number of the unit.",
};

if (button && navigator.mediaDevices?.getUserMedia) {
  const video = part.querySelector("video");
  const said = part.querySelector("[role=status]");
  let stream = null;
  const stop = () => {
    for (const track of stream?.getTracks() ?? []) track.stop();
    stream = null;
    video.srcObject = null;
  };
  const end = () => {
    stop();
    part.hidden = true;
    button.hidden = false;
    button.focus();
  };
  const look = async (read, since) => {
    if (!stream) return;
    const texts = video.videoWidth ? await read(video).catch(() => []) : [];
    const code = texts.map(codeOn).find(Boolean);
    if (!stream) return;
    if (code) {
      said.textContent = "Label read.";
      stop();
      location.assign(`/u/${code.toUpperCase()}`);
      return;
    }
    if (texts.length) said.textContent = "This code is no unit label. Hold the camera on the label of the unit.";
    else if (Date.now() - since > SAY_AFTER_MS) said.textContent = "Nothing read yet. Go nearer, wipe the label, or type the number.";
    setTimeout(look, LOOK_EVERY_MS, read, since);
  };
  const begin = async () => {
    button.hidden = true;
    part.hidden = false;
    said.textContent = "Hold the camera on the label of the unit.";
    part.querySelector("button").focus();
    try {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      // Somebody may have pressed Stop while the browser asked.
      if (part.hidden) {
        stop();
        return;
      }
      video.srcObject = stream;
      await video.play();
      look(await decoder(), Date.now());
    } catch (cause) {
      stop();
      said.textContent = WHY_NOT[cause.name] ?? "The camera could not be started. Type the number of the unit.";
    }
  };
  button.hidden = false;
  button.addEventListener("click", begin);
  part.querySelector("button").addEventListener("click", end);
  addEventListener("pagehide", stop);
}
