// The printed quote: nothing that a name says becomes markup, and nothing is fetched.

import { expect, test } from "vitest";
import { escaped } from "../../src/html.ts";
import { machineRatio } from "../../src/quote/actuals.ts";
import { isQuotePage, quotePage } from "../../src/quote/page.ts";
import { quoteOf } from "../../src/quote/quote.ts";
import { assumptionsOf, hoursText, missedText, narrowedText, stepsOf } from "../../src/quote/words.ts";
import { drawsOf, smallJob } from "./sizes.ts";

const RATES = { currency: "EUR", machineHour: 90, labourHour: 60 };
const NASTY = `<img src=x onerror="alert('1')">&amp;\u0000`;

function page(name: string, species = ""): string {
  const job = { ...smallJob({ species, faces: "upper" }), name };
  const nasty = {
    ...job,
    setups: job.setups.map((setup) => ({ ...setup, cutter: { ...setup.cutter, name: NASTY } })),
  };
  return quotePage(quoteOf(job, RATES, 1, drawsOf(job, 60)), {
    name,
    steps: [...stepsOf(job), NASTY],
    assumptions: assumptionsOf(nasty, machineRatio([]), 0),
    notes: [NASTY],
    validUntil: NASTY,
    money: (amount) => `${amount.toFixed(2)} <b>&`,
  });
}

test("text is nothing but text", () => {
  expect(escaped(NASTY)).toBe("&lt;img src=x onerror=&quot;alert(&#39;1&#39;)&quot;&gt;&amp;amp; ");
  const html = page(NASTY);
  const clean = page("Jetty bench");
  // The same elements, whatever the names are.
  const tags = (text: string) => text.match(/<\/?[a-z0-9!]+/gi)?.sort();
  expect(tags(html)).toEqual(tags(clean));
  expect(html).not.toContain("<img");
  expect(html).not.toContain("<b>");
  expect(html).not.toContain("\u0000");
});

test("the page stands alone: no script, no address, two sheets", () => {
  const html = page("Jetty bench");
  expect(isQuotePage(html)).toBe(true);
  expect(html).not.toMatch(/<script|https?:|<link|url\(|@import/i);
  expect(html).toContain("default-src 'none'");
  expect(html.match(/<main>/g)).toHaveLength(2);
  expect(html.match(/<svg [^>]*role="img"><title>/g)).toHaveLength(2);
  expect(html).not.toContain("NaN");
});

test("hours and sentences read as they should", () => {
  expect([0, 0.999, 1.5, 12.008].map(hoursText)).toEqual([
    "0 h 00 min",
    "1 h 00 min",
    "1 h 30 min",
    "12 h 00 min",
  ]);
  const range = (low: number, high: number) => ({ low, likely: (low + high) / 2, high });
  expect(narrowedText(range(1, 3), range(2, 2.5))).toContain(
    "0 min to 3 h 00 min: they make the spread 75 % narrower",
  );
  expect(narrowedText(range(1, 2), range(1, 2.5))).toBe("");
  expect(narrowedText(range(1, 1), range(1, 1))).toBe("");
  const job = smallJob({ faces: "upper" });
  const quote = quoteOf(job, RATES, 1, drawsOf(job, 10));
  expect(missedText({ ...quote, missedShare: 0 })).toBe("");
  expect(missedText({ ...quote, faces: 200, missedShare: 0.075 })).toContain("In 15 of the 200");
  expect(missedText({ ...quote, missedShare: 1, missedBy: ["back"] })).toContain("after setup back:");
  expect(stepsOf(smallJob({ slabs: 1, shellMm: 5 }))).toEqual([
    "slab 1: upper face skimmed until 90 % of it is clean",
    "slab 1: under face skimmed until 90 % of it is clean",
    "top: upper face cut flat, evenly with the other face towards 40 mm",
    "top: under face cut flat to a thickness of 40 mm",
  ]);
});
