// What the program says on standard output when it starts: one fact a line, for people and for tests.

/** "listening on http://127.0.0.1:8080" → the address; undefined for any other line. */
export function readAddress(line) {
  return /^listening on (https?:\/\/\S+)$/.exec(line.trim())?.[1];
}

/**
 * `sign-on: role=manager handle=P10 password="four words"` → { subject, text, fields }; undefined for lines of another shape.
 * A field is written `name=value` or `name: value`, in quotes when it holds spaces.
 */
export function readLine(line) {
  const [, subject, text] = /^([a-z][a-z -]*):\s+(.+)$/i.exec(line.trim()) ?? [];
  if (!subject) return undefined;
  const fields = {};
  for (const [, name, value, quoted] of text.matchAll(/([a-z][\w-]*)\s*[=:]\s*("([^"]*)"|\S+)/gi)) {
    fields[name.toLowerCase()] = quoted ?? value.replace(/[,;]$/, '');
  }
  return { subject: subject.toLowerCase().replaceAll(' ', '-'), text, fields };
}

/** Everything of one subject, in the order it was said. */
export function saidAbout(lines, subject) {
  return lines.map(readLine).filter((line) => line?.subject === subject);
}
