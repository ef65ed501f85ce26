// What stands before a camera: a label of the product, as it is drawn on its page.

import { writeFileSync } from 'node:fs';

const WIDTH = 1280;
const HEIGHT = 720;

/** Draws labels of the units found by a text; gives the picture of the first one, its number and its address. */
export async function pictureOfLabel(page, server, text) {
  await page.goto(server.at(`/labels?text=${text}`));
  await page.locator('label:has(input[name="unit[]"])').first().click();
  await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Show labels' }).click()]);
  const label = page.locator('.labels > li').first();
  const number = await label.locator('strong').innerText();
  const code = (await label.innerText()).match(/Code ([0-9A-Z]{4})-([0-9A-Z]{4})/);
  return { png: await label.screenshot({ scale: 'css' }), number, address: `/u/${code[1]}${code[2]}` };
}

/** Writes a film for a camera that films nothing else. The browser draws it, since nothing else here reads pictures. */
export async function filmOf(page, png, file) {
  const luma = await page.evaluate(async ({ base64, width, height }) => {
    const bytes = Uint8Array.from(atob(base64), (sign) => sign.charCodeAt(0));
    const picture = await createImageBitmap(new Blob([bytes], { type: 'image/png' }));
    const canvas = new OffscreenCanvas(width, height);
    const pen = canvas.getContext('2d');
    pen.fillStyle = '#999';
    pen.fillRect(0, 0, width, height);
    const scale = Math.min((width * 0.9) / picture.width, (height * 0.9) / picture.height);
    const [wide, high] = [picture.width * scale, picture.height * scale];
    pen.drawImage(picture, (width - wide) / 2, (height - high) / 2, wide, high);
    const { data } = pen.getImageData(0, 0, width, height);
    let grey = '';
    for (let at = 0; at < data.length; at += 4) grey += String.fromCharCode(Math.round(0.299 * data[at] + 0.587 * data[at + 1] + 0.114 * data[at + 2]));
    return btoa(grey);
  }, { base64: png.toString('base64'), width: WIDTH, height: HEIGHT });
  // YUV4MPEG2 (from memory): a line of what it is, then for each frame its brightness and two planes of no colour.
  const plain = Buffer.alloc(WIDTH * HEIGHT / 2, 128);
  const frame = [Buffer.from('FRAME\n'), Buffer.from(luma, 'base64'), plain];
  writeFileSync(file, Buffer.concat([Buffer.from(`YUV4MPEG2 W${WIDTH} H${HEIGHT} F10:1 Ip A1:1 C420jpeg\n`), ...frame, ...frame]));
}

/** Puts a code as it is drawn on a label before every camera of a browser. */
export async function holdBefore(context, { side, path }) {
  await context.addInitScript(({ side, path }) => {
    navigator.mediaDevices.getUserMedia = async () => {
      const canvas = document.createElement('canvas');
      canvas.width = canvas.height = (side + 8) * 10;
      const pen = canvas.getContext('2d');
      const draw = () => {
        pen.setTransform(1, 0, 0, 1, 0, 0);
        pen.fillStyle = '#fff';
        pen.fillRect(0, 0, canvas.width, canvas.height);
        pen.setTransform(10, 0, 0, 10, 40, 40);
        pen.fillStyle = '#000';
        pen.fill(new Path2D(path));
      };
      setInterval(draw, 50);
      draw();
      return canvas.captureStream();
    };
  }, { side, path });
}

/** The code of a unit's label, as its page draws it. */
export async function codeOfLabel(page, server, number) {
  await page.goto(server.at(`/labels?text=${number}`));
  await page.locator('label:has(input[name="unit[]"])', { hasText: number }).first().click();
  await Promise.all([page.waitForEvent('load'), page.getByRole('button', { name: 'Show labels' }).click()]);
  const code = page.locator('.labels .qr').first();
  return { side: Number((await code.getAttribute('viewBox')).split(' ')[2]), path: await code.locator('path').getAttribute('d') };
}
