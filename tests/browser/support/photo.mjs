// A photo as a camera gives it, drawn by the browser.

/** For setInputFiles. Every one is another picture, so that none is taken for one that was sent before. */
export async function photograph(page, { width, height }) {
  const base64 = await page.evaluate(async ({ width, height }) => {
    const canvas = new OffscreenCanvas(width, height);
    const pen = canvas.getContext('2d');
    const picture = pen.createImageData(width, height);
    const tint = Math.random() * 100;
    for (let at = 0; at < picture.data.length; at += 4) {
      const grain = Math.random() * 60;
      picture.data.set([tint + grain, (at / 4 / width / height) * 150 + grain, 80 + grain, 255], at);
    }
    pen.putImageData(picture, 0, 0);
    const bytes = new Uint8Array(await (await canvas.convertToBlob({ type: 'image/jpeg', quality: 0.95 })).arrayBuffer());
    let text = '';
    for (const byte of bytes) text += String.fromCharCode(byte);
    return btoa(text);
  }, { width, height });
  return { name: 'IMG_0001.jpg', mimeType: 'image/jpeg', buffer: Buffer.from(base64, 'base64') };
}
