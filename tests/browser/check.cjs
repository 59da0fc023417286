// Opens a page in Chromium at phone and desktop width and prints what is wrong with it as JSON,
// the page as it opens and each of the parts that are named.
//
//   node check.cjs CHROMIUM PAGE.html [PART ...]
'use strict';

const { pathToFileURL } = require('node:url');
const axe = require('axe-core');
const { chromium } = require('playwright-core');
const { FLAGS } = require('./chromium.cjs');

const WIDTHS = [390, 1280];

async function look(browser, url, part, width) {
  const context = await browser.newContext({ viewport: { width, height: 844 } });
  const page = await context.newPage();
  const requests = [];
  page.on('request', (request) => requests.push(request.url()));
  await page.goto(url + part, { waitUntil: 'load' });
  // axe is put in from outside; without scripts of its own the page can't tell.
  await page.evaluate(axe.source);
  const result = await page.evaluate(() => window.axe.run(document));
  const scripts = await page.locator('script').count();
  const overflow = await page.evaluate(
    () => document.documentElement.scrollWidth - document.documentElement.clientWidth,
  );
  await context.close();
  return {
    width,
    part,
    overflow,
    scripts,
    elsewhere: requests.filter((asked) => asked !== url && !asked.startsWith('data:')),
    passes: result.passes.length,
    violations: result.violations.map((v) => ({
      rule: v.id,
      help: v.help,
      nodes: v.nodes.map((n) => n.html.slice(0, 200)),
    })),
  };
}

async function main() {
  const [executablePath, file, ...parts] = process.argv.slice(2);
  const url = pathToFileURL(file).href;
  const browser = await chromium.launch({ executablePath, args: FLAGS });
  try {
    const looks = [];
    for (const part of ['', ...parts]) {
      for (const width of WIDTHS) looks.push(await look(browser, url, part, width));
    }
    console.log(JSON.stringify(looks, null, 1));
  } finally {
    await browser.close();
  }
}

main().catch((error) => {
  console.error(error);
  process.exit(1);
});
