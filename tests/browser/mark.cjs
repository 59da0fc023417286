// Marks the club on a page as a coach does, at phone and desktop width, and prints as JSON what was
// saved and what the page asked of anybody else.
//
//   node mark.cjs CHROMIUM PAGE.html FOLDER
'use strict';

const path = require('node:path');
const { pathToFileURL } = require('node:url');
const axe = require('axe-core');
const { chromium } = require('playwright-core');
const { FLAGS } = require('./chromium.cjs');

async function tap(page, x, y) {
  const box = await page.locator('#picture').boundingBox();
  await page.mouse.click(box.x + x * box.width, box.y + y * box.height);
}

async function save(page, folder, name) {
  const waiting = page.waitForEvent('download');
  await page.click('#save');
  const download = await waiting;
  const file = path.join(folder, name);
  await download.saveAs(file);
  return { file, suggested: download.suggestedFilename() };
}

async function mark(browser, url, width, folder) {
  const context = await browser.newContext({ viewport: { width, height: 844 }, acceptDownloads: true });
  const page = await context.newPage();
  const requests = [];
  const errors = [];
  page.on('request', (request) => requests.push(request.url()));
  page.on('pageerror', (error) => errors.push(String(error)));
  await page.goto(url, { waitUntil: 'load' });
  await page.evaluate(axe.source);
  const { violations } = await page.evaluate(() => window.axe.run(document));
  const overflow = await page.evaluate(
    () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
  );

  await tap(page, 0.5, 0.25); // grip, then clubhead, then on to the next frame
  await tap(page, 0.75, 0.5);
  await page.keyboard.press('ArrowRight');
  await page.keyboard.press('h');
  await tap(page, 0.25, 0.75);
  const first = await save(page, folder, `first-${width}.json`);

  await page.reload();
  await page.setInputFiles('#load', first.file);
  await page.click('#on');
  await page.click('#on');
  await page.click('#clear');
  await tap(page, 0.5, 0.5);
  const told = await page.locator('#told').textContent();
  const second = await save(page, folder, `second-${width}.json`);
  await context.close();
  return {
    width,
    errors,
    overflow,
    told,
    suggested: first.suggested,
    saved: [first.file, second.file],
    violations: violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 120))}`),
    elsewhere: requests.filter((asked) => asked !== url && !/^(data|blob):/.test(asked)),
  };
}

async function main() {
  const [executablePath, file, folder] = process.argv.slice(2);
  const browser = await chromium.launch({ executablePath, args: FLAGS });
  try {
    const looks = [];
    for (const width of [390, 1280]) looks.push(await mark(browser, pathToFileURL(file).href, width, folder));
    console.log(JSON.stringify(looks, null, 1));
  } finally {
    await browser.close();
  }
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
