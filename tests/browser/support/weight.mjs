// How many bytes a visit costs, heads included, as they go over the wire.

/** Visits an address. Gives { bytes, answers: [{ url, bytes }] }; what the browser had kept counts 0. */
export async function weigh(page, url) {
  const wire = await page.context().newCDPSession(page);
  const answers = new Map();
  wire.on('Network.requestWillBeSent', ({ requestId, request }) => answers.set(requestId, { url: request.url, bytes: 0 }));
  wire.on('Network.loadingFinished', ({ requestId, encodedDataLength }) => {
    const answer = answers.get(requestId);
    if (answer) answer.bytes = encodedDataLength;
  });
  await wire.send('Network.enable');
  await page.goto(url, { waitUntil: 'networkidle' });
  await wire.detach();
  const list = [...answers.values()];
  return { bytes: list.reduce((sum, { bytes }) => sum + bytes, 0), answers: list };
}
