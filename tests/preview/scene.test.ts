// What is drawn of a plan agrees with the plan: shares, volumes, thickness, minutes. Playback against the proof: run
// to its end, the wood is what the proof left; run to any time, it is what a fresh run to that time leaves.

import { describe, expect, test } from "vitest";
import { inOrOn } from "../../src/job/outline.ts";
import type { PlannedSetup } from "../../src/plan.ts";
import { blocksOf, SPENDS, spendShares } from "../../src/preview/rail.ts";
import { cleanShares, heightsNow, shownRange } from "../../src/preview/readings.ts";
import { Replay } from "../../src/preview/replay.ts";
import { type SetupScene, sceneOf } from "../../src/preview/scene.ts";
import { Clean, type WoodScene } from "../../src/preview/wood-scene.ts";
import { LONG, sample } from "./samples.ts";

const NAMES = ["cupped-slab", "live-edge-cleats", "river-table", LONG];

for (const name of NAMES)
  describe(name, () => {
    const { plan, scene } = sample(name);
    scene.setups.forEach((setup, k) => {
      const planned = plan.setups[k];
      const { wood } = setup;
      if (wood === null) throw new Error("a planned setup has wood");

      test(`${setup.id}: at most 165 000 samples, as the mesh may have`, () => {
        // A rim of samples all around the pieces is no part of them.
        expect(wood.cols * wood.rows).toBeLessThan(1.1 * 165_000);
      });

      test(`${setup.id}: volume between the faces is what comes off, to 1 %`, () => {
        let volume = 0;
        for (let at = 0; at < wood.clean.length; at++)
          if (wood.clean[at] !== Clean.outside) volume += wood.before[at] - wood.after[at];
        const litres = (volume * wood.pitchMm ** 2) / 1e6;
        const { wood: woodLitres, resin } = planned.removedLitres;
        expect(Math.abs(litres / (woodLitres + resin) - 1)).toBeLessThan(0.01);
      });

      test(`${setup.id}: the share cleaned is the proof's, to 1 %`, () => {
        const shares = cleanShares(setup);
        const withWood = 1 - shares[Clean.resin];
        const own = planned.pieces.length === 1 && planned.found[0].up.cut === null;
        if (!own) return;
        expect(Math.abs(shares[Clean.cleaned] / withWood - planned.pieces[0].cleanUp)).toBeLessThan(0.01);
      });

      test(`${setup.id}: thickness in shade is the plan's, to a sample`, () => {
        const [low] = shownRange(setup, "thickness");
        const least = Math.min(...planned.pieces.map(({ thinnestMm }) => thinnestMm));
        expect(low).toBeGreaterThan(least - 0.02);
        expect(low - least).toBeLessThan(0.3);
      });

      test(`${setup.id}: blocks and shares of the time rail add up to the machine time`, () => {
        const { ends, total } = new Replay(setup, scene.machine);
        const blocks = blocksOf(setup.track, ends);
        expect(blocks[0].from).toBe(0);
        for (let b = 1; b < blocks.length; b++) expect(blocks[b].from).toBe(blocks[b - 1].to);
        expect(blocks.at(-1)?.to).toBeCloseTo(total, 9);
        planned.layers.forEach(({ seconds }, layer) => {
          const own = blocks.filter((block) => block.layer === layer);
          expect(own.reduce((sum, { from, to }) => sum + to - from, 0)).toBeCloseTo(seconds, 6);
        });
        const bins = 100;
        const shares = spendShares(setup.track, ends, bins);
        const sums = Array.from({ length: SPENDS }, (_, spend) => {
          let sum = 0;
          for (let bin = 0; bin < bins; bin++) sum += shares[SPENDS * bin + spend];
          return (sum / bins) * total;
        });
        const { cutting, linking, rapid, spindle } = planned.seconds;
        [cutting, linking, rapid, spindle].forEach((seconds, spend) => {
          // Shares are single precision.
          expect(Math.abs(sums[spend] - seconds)).toBeLessThan(1e-5 * total + 1e-6);
        });
      });
    });
  });

describe("side sections", () => {
  test("a turned piece is drawn as it was first laid: both cuts leave the same body", () => {
    const { scene } = sample("river-table");
    const [upper, under] = ["shell-upper", "shell-under"].map((id) =>
      scene.setups.find((setup) => setup.id === id),
    );
    const [a, b] = [upper?.pieces[0].section, under?.pieces[0].section];
    if (!a || !b) throw new Error("the sample has both setups");
    expect([a.side, b.side]).toEqual([1, -1]);
    const middle = a.leftOuterMm.length >> 1;
    // What the upper setup has left is the far face of the under one.
    expect(b.farMm[middle]).toBeCloseTo(a.leftOuterMm[middle], 2);
    // What the under setup finds is the lower face as the upper one saw it.
    expect(b.outerMm[middle]).toBeCloseTo(a.farMm[middle], 2);
    // The finished thickness: between both cuts.
    const thick = under?.pieces[0].thickestMm ?? Number.NaN;
    expect(b.farMm[middle] - b.leftOuterMm[middle]).toBeCloseTo(thick, 2);
  });
});

// Playback -----------------------------------------------------------------------------------

/** Heights are single precision. */
const SINGLE_MM = 1e-5;

function prepared(setup: SetupScene, name: string): Replay {
  const replay = new Replay(setup, sample(name).scene.machine);
  while (!replay.prepare(400_000));
  return replay;
}

/** The face that the proof leaves, at the scene's samples. */
function provenHeights(planned: PlannedSetup, wood: WoodScene): Float32Array {
  const heights = new Float32Array(wood.clean.length);
  for (const { piece, up } of planned.left())
    for (let row = 0, at = 0; row < wood.rows; row++)
      for (let col = 0; col < wood.cols; col++, at++) {
        const [x, y] = [wood.x0 + col * wood.pitchMm, wood.y0 + row * wood.pitchMm];
        if (wood.clean[at] === Clean.outside || !inOrOn(piece.outline, x, y, 0.01)) continue;
        const { cut } = up;
        if (cut === null) throw new Error("every setup of the samples cuts all its pieces");
        const cutAt =
          Math.round((y - cut.y0) / cut.pitchMm) * cut.cols + Math.round((x - cut.x0) / cut.pitchMm);
        heights[at] = Math.min(up.surface.heightAt(x, y), cut.z[cutAt]);
      }
  return heights;
}

/** How far two faces are apart at most, within the outlines. */
function farthest(a: Float32Array, b: Float32Array, { wood }: SetupScene): number {
  let most = 0;
  for (let k = 0; k < a.length; k++)
    if (wood?.clean[k] !== Clean.outside) most = Math.max(most, Math.abs(a[k] - b[k]));
  return most;
}

for (const name of ["cupped-slab", "live-edge-cleats", "river-table", LONG])
  describe(`playback of ${name}`, () => {
    const { scene, plan } = sample(name);
    scene.setups.forEach((setup, k) => {
      test(`${setup.id}: takes as long as planned, and ends at what the proof left`, () => {
        const replay = prepared(setup, name);
        expect(replay.total).toBeCloseTo(plan.setups[k].seconds.total, 6);
        const end = replay.at(replay.total);
        expect(end.taken).toBe(1);
        const { wood, proof, floorMm } = setup;
        if (wood === null || proof === null || floorMm === null || replay.heights === null)
          throw new Error("a planned setup has wood");
        expect(farthest(replay.heights, provenHeights(plan.setups[k], wood), setup)).toBeLessThan(SINGLE_MM);
        expect(farthest(wood.after, replay.heights, setup)).toBe(0);
        const [low, high] = heightsNow(setup, replay.heights);
        expect(high).toBeCloseTo(proof.highestMm - floorMm, 4);
        // The screen's samples are some of the proof's: the lowest place may lie between them.
        expect(low).toBeGreaterThanOrEqual(proof.lowestMm - floorMm - SINGLE_MM);
        expect(low - (proof.lowestMm - floorMm)).toBeLessThan(0.1);
      });
    });

    test("any time after any other is what a fresh run to it leaves, seed 5", () => {
      const [setup] = scene.setups;
      const replay = prepared(setup, name);
      let seed = 5;
      for (let n = 0; n < 12; n++) {
        seed = (seed * 16807) % 2147483647;
        const seconds = (replay.total * seed) / 2147483647;
        const jumped = replay.at(seconds);
        const fresh = new Replay(setup, scene.machine);
        const run = fresh.at(seconds);
        expect([jumped.entry, jumped.share, jumped.x, jumped.y, jumped.z]).toEqual([
          ...[run.entry, run.share, run.x, run.y, run.z],
        ]);
        if (replay.heights === null || fresh.heights === null) throw new Error("a planned setup has wood");
        expect(farthest(replay.heights, fresh.heights, setup)).toBe(0);
      }
    });
  });

test("material is only ever taken, and nothing at the start", () => {
  const [setup] = sample("live-edge-cleats").scene.setups;
  const replay = prepared(setup, "live-edge-cleats");
  let before = 0;
  expect(replay.at(0).taken).toBe(0);
  for (let n = 1; n <= 50; n++) {
    const { taken } = replay.at((replay.total * n) / 50);
    expect(taken).toBeGreaterThanOrEqual(before);
    before = taken;
  }
});

test("a scene can be sent from a worker", () => {
  const { scene } = sample("cupped-slab");
  expect(structuredClone(scene)).toEqual(scene);
});

test("shims are drawn under the setup in which their piece first lies", () => {
  const { plan } = sample("river-table");
  const shims = [{ x: 300, y: 250, thicknessMm: 2.5 }];
  const seats = new Map([["left", { tiltX: 0, tiltY: 0, raiseMm: 0, shims }]]);
  const { setups } = sceneOf({ ...plan, seats });
  expect(setups.map((setup) => setup.shims)).toEqual([shims, [], [], []]);
});
