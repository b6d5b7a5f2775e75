// A quote as two pages to print, one for the client and one for the shop, in one HTML file without scripts or
// anything fetched. Whatever comes from files is escaped. Dates and money come in as the caller words them.

import { escaped } from "../html.ts";
import type { Quote, QuotePart } from "./quote.ts";
import { driverParts, hoursText, missedText } from "./words.ts";

export interface PageText {
  readonly name: string;
  readonly steps: readonly string[];
  readonly assumptions: readonly string[];
  /** What the shop should know beside: of the machine, of what readings are worth. */
  readonly notes: readonly string[];
  readonly validUntil: string;
  readonly money: (amount: number) => string;
}

/** By this a page of ours is known. */
const MARK = 'name="generator" content="slabtrue quote"';

export function isQuotePage(html: string): boolean {
  return html.includes(MARK);
}

export function quotePage(quote: Quote, text: PageText): string {
  const { name, money } = text;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta ${MARK}>
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Quote: ${escaped(name)}</title>
<style>
body { margin: 0; color: #23211f; background: #fff; font: 11pt/1.45 Georgia, "Times New Roman", serif; }
main { max-width: 17cm; margin: 0 auto; padding: 1.5cm; }
main + main { border-top: 1px dashed #8a8178; }
h1 { font-size: 19pt; margin: 0 0 .3em; }
h2 { font-size: 12.5pt; margin: 1.4em 0 .3em; }
.ranges { display: grid; grid-template-columns: auto 1fr 1fr 1fr; gap: .2em 1.5em; align-items: baseline; }
.ranges > * { text-align: right; }
.ranges > :nth-child(4n + 1) { text-align: left; }
.likely { font-weight: bold; font-size: 14pt; }
table { border-collapse: collapse; width: 100%; }
th, td { text-align: right; padding: .15em 0 .15em 1em; border-bottom: 1px solid #d5cec6; }
th:first-child, td:first-child { text-align: left; padding-left: 0; }
tfoot td { font-weight: bold; border-bottom: 0; }
svg { width: 100%; height: auto; margin-top: .6em; }
svg text { font: 9px Georgia, serif; fill: #23211f; }
.small { font-size: 9.5pt; color: #57504a; }
@page { margin: 1.5cm; }
@media print { main { padding: 0; } main + main { border: 0; break-before: page; } }
</style>
</head>
<body>
<main>
<h1>${escaped(name)}</h1>
<p>Quote for flattening on the machine, valid until <strong>${escaped(text.validUntil)}</strong>.</p>
${rangesHtml(quote, money)}
${spreadChart(quote)}
<h2>What is done</h2>
${listHtml(text.steps)}
<h2>What it assumes</h2>
${listHtml(text.assumptions)}
<p class="small">The lower figure is undercut by one table in ten of this kind, the higher one exceeded by one in ten.</p>
</main>
<main>
<h1>For the shop: ${escaped(name)}</h1>
${partsHtml(quote, money)}
${partsChart(quote)}
<h2>What makes the spread</h2>
${listHtml(driverParts(quote.drivers))}
<h2>To know</h2>
${listHtml([...text.notes, ...[missedText(quote)].filter((note) => note !== ""), `${quote.faces} invented tables, seed ${quote.seed}: the same seed gives the same quote.`])}
</main>
</body>
</html>
`;
}

function listHtml(lines: readonly string[]): string {
  if (lines.length === 0) return "<p>Nothing to tell.</p>";
  return `<ul>\n${lines.map((line) => `<li>${escaped(line)}</li>`).join("\n")}\n</ul>`;
}

function rangesHtml({ hours, price }: Quote, money: PageText["money"]): string {
  const row = (label: string, { low, likely, high }: Quote["hours"], tell: (value: number) => string) =>
    `<span>${label}</span><span>${escaped(tell(low))}</span>` +
    `<span class="likely">${escaped(tell(likely))}</span><span>${escaped(tell(high))}</span>`;
  return `<div class="ranges"><span></span><span>low</span><span>likely</span><span>high</span>
${row("Hours, machine and people", hours, hoursText)}
${row("Price", price, money)}</div>`;
}

function partsHtml({ parts, hours, price }: Quote, money: PageText["money"]): string {
  const rows = parts
    .filter(({ minutes, price }) => minutes > 0 || price > 0)
    .map(
      ({ name, minutes, price }) =>
        `<tr><td>${escaped(name)}</td><td>${minutes > 0 ? escaped(hoursText(minutes / 60)) : ""}</td><td>${escaped(money(price))}</td></tr>`,
    );
  return `<table>
<thead><tr><th>Part</th><th>Time</th><th>Price</th></tr></thead>
<tbody>
${rows.join("\n")}
</tbody>
<tfoot><tr><td>likely</td><td>${escaped(hoursText(hours.likely))}</td><td>${escaped(money(price.likely))}</td></tr></tfoot>
</table>`;
}

// Charts: units of 0 to 400 across ---------------------------------------------------------------

const [WIDTH, BASE, TALL] = [400, 70, 52];
const COLUMNS = 24;

/** How often tables take how many hours, with low, likely and high. */
function spreadChart({ sortedHours, hours }: Quote): string {
  const [from, to] = [sortedHours[0], sortedHours[sortedHours.length - 1]];
  const width = to > from ? (to - from) / COLUMNS : 1;
  const counts = new Array<number>(COLUMNS).fill(0);
  for (const value of sortedHours) counts[Math.min(COLUMNS - 1, Math.floor((value - from) / width))]++;
  const most = Math.max(...counts);
  const x = (value: number) => 20 + ((WIDTH - 40) * (value - from)) / (COLUMNS * width);
  const bars = counts.map((count, k) => {
    const high = (TALL * count) / most;
    const step = (WIDTH - 40) / COLUMNS;
    return `<rect x="${(20 + k * step).toFixed(1)}" y="${(BASE - high).toFixed(1)}" width="${(step - 1).toFixed(1)}" height="${high.toFixed(1)}" fill="#b9a58c"/>`;
  });
  const marks = (["low", "likely", "high"] as const).map((name) => {
    const at = x(hours[name]).toFixed(1);
    return `<line x1="${at}" y1="12" x2="${at}" y2="${BASE + 3}" stroke="#23211f" stroke-width="${name === "likely" ? 1.6 : 0.8}"/><text x="${at}" y="9" text-anchor="middle">${name}</text>`;
  });
  return `<svg viewBox="0 0 ${WIDTH} 88" role="img"><title>${escaped(`Hours of ${sortedHours.length} invented tables: ${hoursText(hours.low)} low, ${hoursText(hours.likely)} likely, ${hoursText(hours.high)} high`)}</title>
${bars.join("")}<line x1="20" y1="${BASE}" x2="${WIDTH - 20}" y2="${BASE}" stroke="#57504a"/>
${marks.join("")}
<text x="20" y="84">${escaped(hoursText(from))}</text><text x="${WIDTH - 20}" y="84" text-anchor="end">${escaped(hoursText(to))}</text></svg>`;
}

const SHADES = ["#6f5a43", "#8d745a", "#ab9375", "#4f6470", "#6f8592", "#93a7b3", "#bccad3"];

/** Where the likely hours go. */
function partsChart({ parts }: Quote): string {
  const timed = parts.filter(({ minutes }) => minutes > 0);
  const all = timed.reduce((sum, { minutes }) => sum + minutes, 0);
  if (all === 0) return "";
  const share = ({ minutes }: QuotePart) => minutes / all;
  let at = 0;
  const rows = timed.map((part, k) => {
    const [x, wide] = [WIDTH * at, WIDTH * share(part)];
    at += share(part);
    const y = 40 + 13 * k;
    const shade = SHADES[k % SHADES.length];
    return (
      `<rect x="${x.toFixed(1)}" y="4" width="${wide.toFixed(1)}" height="22" fill="${shade}"/>` +
      `<rect x="0" y="${y - 8}" width="9" height="9" fill="${shade}"/>` +
      `<text x="14" y="${y}">${escaped(`${part.name}: ${hoursText(part.minutes / 60)}, ${Math.round(100 * share(part))} %`)}</text>`
    );
  });
  return `<svg viewBox="0 0 ${WIDTH} ${36 + 13 * timed.length}" role="img"><title>Where the likely hours go</title>
${rows.join("\n")}</svg>`;
}
