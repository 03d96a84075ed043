// Called by scripts/check-page: PAGE, a new folder for the browser, and a folder for pictures
// or nothing.
"use strict";
const fs = require("fs");
const path = require("path");
const { pathToFileURL } = require("url");
const puppeteer = require("puppeteer-core");

const [page, profile, pictures] = process.argv.slice(2);
const address = pathToFileURL(page).href;
const axe = fs.readFileSync(require.resolve("axe-core/axe.min.js"), "utf8");
const browserPath =
  process.env.CHROMIUM ||
  ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(fs.existsSync);

const VIEWS = [
  { name: "phone", width: 390, height: 844, scheme: "light" },
  { name: "phone-dark", width: 390, height: 844, scheme: "dark" },
  { name: "desk", width: 1280, height: 900, scheme: "light" },
  { name: "desk-dark", width: 1280, height: 900, scheme: "dark" },
];

const faults = [];

// What is wrong with the page as it is shown; runs within it.
function look() {
  const wrong = [];
  const root = document.documentElement;
  if (root.scrollWidth > root.clientWidth) {
    wrong.push(`it is ${root.scrollWidth} pixels wide where there are ${root.clientWidth}`);
    for (const e of document.querySelectorAll("main *")) {
      const box = e.getBoundingClientRect();
      if (box.right > root.clientWidth + 1 && !e.closest(".wide, .scroll")) {
        wrong.push(`  ${e.tagName} sticks out: ${e.textContent.slice(0, 60)}`);
        break;
      }
    }
  }
  const drawings = [...document.querySelectorAll("svg")];
  for (const svg of drawings) {
    const box = svg.getBoundingClientRect();
    const name = svg.querySelector("title")?.textContent ?? "";
    if (box.width < 200 || box.height < 30) wrong.push(`drawing not seen: ${name}`);
    if (name === "" || !svg.querySelector("desc")?.textContent) wrong.push("drawing without words");
    const view = svg.viewBox.baseVal;
    for (const e of svg.querySelectorAll("path, rect, circle, text")) {
      const b = e.getBBox();
      const slack = e.tagName === "text" ? 14 : 2;
      const out = b.x < -slack || b.y < -slack || b.x + b.width > view.width + slack || b.y + b.height > view.height + slack;
      if (out) wrong.push(`${e.tagName} "${e.textContent.slice(0, 40)}" lies outside the drawing: ${name}`);
    }
    if (svg.innerHTML.includes("NaN") || svg.innerHTML.includes("inf ")) wrong.push(`no numbers: ${name}`);
  }
  for (const table of document.querySelectorAll("table")) {
    if (!table.caption || table.caption.textContent.trim() === "") wrong.push("table without caption");
    if (table.querySelectorAll("thead th").length === 0) wrong.push("table without heading");
  }
  if (document.scripts.length > 0) wrong.push("there is a script in it");
  return { wrong, drawings: drawings.length, tables: document.querySelectorAll("table").length };
}

async function view(browser, { name, width, height, scheme }) {
  const tab = await browser.newPage();
  const fault = (what) => faults.push(`${name}: ${what}`);
  tab.on("console", (message) => fault(`console: ${message.text()}`));
  tab.on("pageerror", (error) => fault(`error: ${error.message}`));
  tab.on("request", (request) => {
    if (request.url() !== address) fault(`it asks for ${request.url()}`);
  });
  await tab.setViewport({ width, height });
  await tab.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
  await tab.goto(address);
  if (pictures) {
    await tab.screenshot({ path: path.join(pictures, `${name}.png`), fullPage: true });
  }
  // What is folded away is looked at, too.
  await tab.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
  const seen = await tab.evaluate(look);
  seen.wrong.forEach(fault);
  await tab.evaluate(axe);
  const found = await tab.evaluate(() => axe.run(document, { resultTypes: ["violations"] }));
  for (const v of found.violations) {
    const what = `${v.impact}: ${v.id}: ${v.help} (${v.nodes.length}), such as ${v.nodes[0].html.slice(0, 160)}`;
    if (v.impact === "serious" || v.impact === "critical") fault(what);
    else console.log(`${name}: ${what}`);
  }
  console.log(`${name}: ${seen.drawings} drawings, ${seen.tables} tables`);
  if (seen.drawings === 0 || seen.tables === 0) fault("there is nothing on it");
  await tab.close();
}

(async () => {
  if (!browserPath) throw new Error("no chromium found; CHROMIUM names it");
  const browser = await puppeteer.launch({
    executablePath: browserPath,
    userDataDir: profile,
    args: [
      "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
      "--disable-background-networking", "--disable-component-update", "--disable-sync",
    ],
  });
  try {
    for (const v of VIEWS) await view(browser, v);
    if (pictures) {
      const tab = await browser.newPage();
      await tab.goto(address);
      await tab.pdf({ path: path.join(pictures, "print.pdf"), format: "A4" });
    }
  } finally {
    await browser.close();
  }
  faults.forEach((f) => console.error(`check-page: ${f}`));
  process.exit(faults.length === 0 ? 0 : 1);
})().catch((error) => {
  console.error(`check-page: ${error.message}`);
  process.exit(1);
});
