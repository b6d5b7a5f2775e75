// Programs by whomever: shown and timed by themselves, or run on the wood of a setup.

import { expect, test } from "vitest";
import { ASSUMED_MACHINE, programOnWood, programScene } from "../../src/preview/program.ts";
import { Replay } from "../../src/preview/replay.ts";
import { sample } from "./samples.ts";

const bytes = (text: string) => new TextEncoder().encode(text);

test("a small program: layers by height, rows, minutes by hand", () => {
  // Two levels of two rows of 600 mm at 6000 mm/min: 6 s a row and the ramps of rest at both ends.
  const { setups, units, seconds } = programScene(
    "rows.nc",
    bytes(
      [
        "G21 G90 G17 G94",
        "S12000 M3",
        "G0 Z20",
        "G0 X0 Y0",
        "G1 Z5 F1000",
        "G1 X600 F6000",
        "G1 Y40",
        "G1 X0",
        "G1 Z3 F1000",
        "G1 X600 F6000",
        "G0 Z20",
        "M30",
        "",
      ].join("\n"),
    ),
    ASSUMED_MACHINE,
  );
  const [{ layers, wood, findings, track }] = setups;
  expect(units).toBe("mm");
  expect(wood).toBeNull();
  expect(findings).toEqual([]);
  expect(layers.map(({ zMm, rows }) => [zMm, rows])).toEqual([
    [5, 3],
    [3, 1],
  ]);
  const replay = new Replay(setups[0], ASSUMED_MACHINE);
  expect(replay.total).toBeCloseTo(seconds.machine, 9);
  expect(replay.isPrepared).toBe(true);
  // Half of the last row: the track says where the cutter is.
  const last = track.row.lastIndexOf(3);
  const { x, z } = replay.at((replay.ends[last - 1] + replay.ends[last]) / 2);
  expect(x).toBeGreaterThan(250);
  expect(x).toBeLessThan(350);
  expect(z).toBe(3);
});

test("a program that cannot be read is shown as far as it goes, and told", () => {
  const { setups } = programScene(
    "odd.nc",
    bytes("G21 G90\nG0 Z9\nG0 X0 Y0\nG1 X9 F100 Q\nG81 X1\n"),
    ASSUMED_MACHINE,
  );
  expect(setups[0].findings.map(({ line }) => line)).toContain(4);
});

test("a plan's own program on its own wood is that setup again", () => {
  const { plan, scene } = sample("cupped-slab");
  const [planned] = plan.setups;
  const shown = programOnWood("mine.nc", planned.programs[0].text, plan, planned, scene.setups[0]);
  expect(shown.findings).toEqual([]);
  expect(shown.seconds.total).toBeCloseTo(planned.seconds.total, 9);
  expect(shown.seconds.cutting).toBeCloseTo(planned.seconds.cutting, 9);
  expect(shown.proof).toEqual(planned.proof);
  expect(shown.wood?.after).toEqual(scene.setups[0].wood?.after);
});

test("a program 2 mm too deep is found out", () => {
  const { plan, scene } = sample("cupped-slab");
  const [planned] = plan.setups;
  const text = new TextDecoder().decode(planned.programs[0].text);
  const floor = planned.layers.at(-1)?.zMm ?? Number.NaN;
  const deeper = text.replaceAll(`Z${floor}`, `Z${floor - 2}`);
  expect(deeper).not.toBe(text);
  const shown = programOnWood("deep.nc", bytes(deeper), plan, planned, scene.setups[0]);
  expect(shown.findings.map(({ code }) => code)).toContain("gouge");
});
