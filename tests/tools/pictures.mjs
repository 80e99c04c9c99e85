// Takes the README's pictures anew, of the demo's pages: `node tests/tools/pictures.mjs [FOLDER]`. In so few colours that they stay
// small: those that a picture has most of, the others by the nearest of them.
import { mkdirSync, writeFileSync } from "node:fs";
import path from "node:path";
import { crc32, deflateSync } from "node:zlib";
import { demoDatabase, openBrowser, servePages } from "../support/pages.mjs";
import { root } from "../support/program.mjs";

const PHONE = [360, 740];
const pictures = [
  { name: "today", where: "/", size: PHONE },
  { name: "today-dark", where: "/?lang=es", size: PHONE, dark: true },
  { name: "workings", where: "/field/North%20pivot/workings/2026-07-13#reference", size: PHONE, at: "#reference" },
  { name: "turns", where: "/turns", size: [1100, 604], at: 'h2:has-text("Mill well")' },
  { name: "season", where: "/field/North%20pivot#season", size: [960, 560], at: "#season" },
];
const folder = process.argv[2] ?? path.join(root, "fixtures/screens");

/** The pixels of a screenshot, as red, green, blue, alpha. */
function pixels(page, png) {
  return page.evaluate(async (source) => {
    const image = await createImageBitmap(await (await fetch(source)).blob());
    const canvas = new OffscreenCanvas(image.width, image.height).getContext("2d");
    canvas.drawImage(image, 0, 0);
    return Array.from(canvas.getImageData(0, 0, image.width, image.height).data);
  }, `data:image/png;base64,${png.toString("base64")}`);
}

const far = (a, b) => [16, 8, 0].reduce((sum, shift) => sum + (((a >> shift) & 255) - ((b >> shift) & 255)) ** 2, 0);

/** At most 16 colours: what is most frequent, but for shades that are near one that was taken. */
function palette(colours) {
  const counts = new Map();
  for (const colour of colours) counts.set(colour, (counts.get(colour) ?? 0) + 1);
  const taken = [];
  for (const [colour] of [...counts].sort((a, b) => b[1] - a[1] || a[0] - b[0]))
    if (taken.length < 16 && taken.every((other) => far(colour, other) > 500)) taken.push(colour);
  return { taken, of: new Map([...counts.keys()].map((colour) => [colour, taken.reduce((best, other, i) => (far(colour, other) < far(colour, taken[best]) ? i : best), 0)])) };
}

function chunk(type, data) {
  const body = Buffer.concat([Buffer.from(type, "latin1"), data]), out = Buffer.alloc(body.length + 8);
  out.writeUInt32BE(data.length, 0);
  body.copy(out, 4);
  out.writeUInt32BE(crc32(body), body.length + 4);
  return out;
}

/** A PNG of 4 bits a pixel (W3C PNG, 11.2). */
function encode(rgba, [width, height]) {
  const colours = Array.from({ length: width * height }, (_, i) => (rgba[4 * i] << 16) | (rgba[4 * i + 1] << 8) | rgba[4 * i + 2]);
  const { taken, of } = palette(colours), row = 1 + Math.ceil(width / 2), lines = Buffer.alloc(row * height);
  colours.forEach((colour, i) => {
    const x = i % width, at = row * Math.floor(i / width) + 1 + (x >> 1);
    lines[at] |= of.get(colour) << (x % 2 === 0 ? 4 : 0);
  });
  const head = Buffer.alloc(13);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(height, 4);
  head.set([4, 3, 0, 0, 0], 8);
  const colourTable = Buffer.from(taken.flatMap((colour) => [colour >> 16, (colour >> 8) & 255, colour & 255]));
  return Buffer.concat([Buffer.from([137, 80, 78, 71, 13, 10, 26, 10]), chunk("IHDR", head), chunk("PLTE", colourTable), chunk("IDAT", deflateSync(lines, { level: 9 })), chunk("IEND", Buffer.alloc(0))]);
}

const ends = [];
const made = { after: (end) => ends.unshift(end) };
try {
  const { origin } = await servePages(made, await demoDatabase(made));
  const browser = await openBrowser(made);
  const blank = await browser.newPage(); // the pages themselves may fetch nothing that is not theirs
  mkdirSync(folder, { recursive: true });
  for (const { name, where, size, dark, at } of pictures) {
    const context = await browser.newContext({ viewport: { width: size[0], height: size[1] }, colorScheme: dark ? "dark" : "light", locale: "en-US" });
    const page = await context.newPage();
    await page.goto(origin + where);
    if (at) await page.locator(at).evaluate((heading) => window.scrollTo(0, window.scrollY + heading.getBoundingClientRect().top - 8));
    const png = encode(await pixels(blank, await page.screenshot()), size);
    writeFileSync(path.join(folder, `${name}.png`), png);
    console.log(`${name}.png ${png.length}`);
    await context.close();
  }
} finally {
  for (const end of ends) await end();
}
