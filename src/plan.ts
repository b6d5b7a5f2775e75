// The whole way, from a job to its proven programs: each setup finds what the one before left, gets its
// motion planned, its program written, and the written text read back, proven and timed.
// Millimetres, seconds and litres throughout; document.ts says the same in the job's unit.

import { cuttingWarnings } from "./cutting/warnings.ts";
import { assert, PlanError } from "./errors.ts";
import type { Job, Piece, Setup } from "./job/job.ts";
import { trackTimes } from "./motion/clock.ts";
import { isMotion, Kind, type Track } from "./motion/track.ts";
import { levelsOf } from "./passes/floor.ts";
import { type PassesPlan, planPasses } from "./passes/passes.ts";
import { type Finding, type Proof, type ProvenPiece, prove } from "./proof/prove.ts";
import { readProgram } from "./rs274/read.ts";
import { writeProgram } from "./rs274/write.ts";
import { boxOf, gridOver, insideMask } from "./survey/field.ts";
import { defaultMargin, type Scatter, scatterOf } from "./survey/scatter.ts";
import { cutStock, type Stock, uncutStock } from "./survey/stock.ts";
import { formatLength, formatPoint, type Units } from "./units.ts";

/** Something worth telling that does not stop the plan; `code` is stable. */
export interface Warning {
  readonly code: string;
  readonly text: string;
}

export interface LayerReport {
  /** The layer's floor above the bed. */
  readonly zMm: number;
  /** How deep it bites at most. */
  readonly depthMm: number;
  readonly kind: "rough" | "finish";
  /** Cuts: stretches of rows, and ways along keep-outs. */
  readonly rows: number;
  /** Length of the moves that take material. */
  readonly cutLengthMm: number;
  /** Where material may stand above the layer's floor. */
  readonly areaMm2: number;
  readonly seconds: number;
}

export interface Seconds {
  readonly total: number;
  /** Feed moves that take material; feed moves that take none; G0; spindle start and dwells. They add up to `total`. */
  readonly cutting: number;
  readonly linking: number;
  readonly rapid: number;
  readonly spindle: number;
}

export interface PlannedProgram {
  /** File name, safe on every system: `01-skim-upper.nc`. */
  readonly file: string;
  readonly shiftMm: readonly [number, number];
  readonly text: Uint8Array;
  readonly seconds: number;
}

export interface PlannedSetup {
  readonly setup: Setup;
  /** Above the bed. */
  readonly floorMm: number;
  /** Where the program's zero lies in the frame. */
  readonly zeroMm: { readonly x: number; readonly y: number; readonly z: number };
  readonly marginMm: number;
  readonly programs: readonly PlannedProgram[];
  readonly layers: readonly LayerReport[];
  /** Program coordinates. */
  readonly extentMm: {
    readonly min: readonly [number, number, number];
    readonly max: readonly [number, number, number];
  };
  readonly seconds: Seconds;
  readonly removedLitres: { readonly wood: number; readonly resin: number };
  /** How far the highest measured place stood above the floor. */
  readonly removedMostMm: number;
  /** One entry a piece: share of the face cut, and the least and greatest thickness left there, as measured. */
  readonly pieces: readonly {
    readonly id: string;
    readonly cleanUp: number;
    readonly thinnestMm: number;
    readonly thickestMm: number;
  }[];
  readonly proof: Proof;
  readonly warnings: readonly Warning[];
}

export interface Plan {
  readonly job: Job;
  readonly setups: readonly PlannedSetup[];
  readonly seconds: { readonly machine: number; readonly shop: number };
  readonly cautions: readonly string[];
}

/** What `checkProgram` says of a program. */
export interface CheckResult {
  readonly ok: boolean;
  readonly findings: readonly Finding[];
  readonly seconds: Seconds;
  readonly proof: Proof;
}

export type { Finding, Proof };

/** What every plan reminds of. Common shop cautions; no standard is quoted. */
const CAUTIONS = [
  "Hold the piece so that it cannot shift or lift, and check that every clamp and cleat stands where the job says: the programs keep clear of those that it names, and of no others.",
  "Check that the cutter is rated for its speed, its inserts are sharp and tight, and its diameter is the one in the shop file.",
  "Set zero as the job says and run the first moves above the piece with a hand on the stop. Never leave the machine running unattended.",
  "Dust of wood and of resin harms lungs and can burn: use extraction and a respirator, and let resin cure before it is cut.",
  "A simulation cannot see hold-down, a worn insert or lost steps. Follow the makers' manuals, your local rules and trained people.",
];

/** Plans and proves every setup of a job. Throws PlanError when one cannot be made or is not safe. */
export function planJob(job: Job): Plan {
  const bench = new Bench(job);
  const setups = job.setups.map((setup) => bench.plan(setup));
  const machine = setups.reduce((sum, setup) => sum + setup.seconds.total, 0);
  return { job, setups, seconds: { machine, shop: machine + handSeconds(job) }, cautions: CAUTIONS };
}

/**
 * Proves any program on the stock that the setups before its own leave. Throws PlanError when those cannot
 * be planned, or when the setup itself asks for what cannot be.
 */
export function checkProgram(job: Job, setupId: string, text: Uint8Array): CheckResult {
  const bench = new Bench(job);
  for (const setup of job.setups) {
    if (setup.id === setupId) return bench.check(setup, text);
    bench.plan(setup);
  }
  throw new Error(`the job has no setup "${setupId}"`);
}

/** The pieces as they stand between setups. */
class Bench {
  private readonly job: Job;
  private readonly stocks = new Map<Piece, Stock>();
  private readonly scatters = new Map<Piece, Scatter>();

  constructor(job: Job) {
    this.job = job;
  }

  plan(setup: Setup): PlannedSetup {
    const { job } = this;
    const { machine, program } = job.shop;
    const stocks = setup.pieces.map((piece) => this.stock(piece));
    const marginMm = this.margin(setup);
    const passes = planPasses(setup, machine, stocks, marginMm, job.units);
    const written = writeProgram(passes.track, {
      units: job.units,
      style: program,
      tool: job.shop.cutters.findIndex(({ id }) => id === setup.cutter.id) + 1,
      header: header(job, setup, passes),
      notes: layerNotes(job, passes),
    });
    const text = written.text.slice();
    const read = readProgram(text);
    assert(read.ok, `the reader refuses what the writer wrote: ${read.findings[0]?.text}`);
    tagAlike(read.track, passes.track);

    const proven = prove(read.track, {
      ...{ setup, machine, units: job.units, workOffset: program.workOffset },
      ...{ stocks, marginMm, floorMm: passes.floorMm, zeroMm: passes.zeroMm },
    });
    if (!proven.proof.ok) {
      const [first] = proven.findings;
      throw new PlanError(
        first.code,
        setup.id,
        `the program that was made is not safe: ${first.text}`,
        first.line,
      );
    }
    this.leave(setup, stocks, proven.pieces);
    const { seconds, layers } = report(read.track, proven.took, passes, job);
    return {
      setup,
      floorMm: passes.floorMm,
      zeroMm: passes.zeroMm,
      marginMm,
      programs: [{ file: this.fileName(setup), shiftMm: [0, 0], text, seconds: seconds.total }],
      layers,
      extentMm: extentOf(read.track),
      seconds,
      removedLitres: { wood: proven.pieces.reduce((sum, p) => sum + p.removedMm3, 0) / 1e6, resin: 0 },
      removedMostMm: Math.max(...stocks.map((stock) => stock.highestMm)) - passes.floorMm,
      pieces: proven.pieces.map(({ id, cleanUp, lowestMm, highestMm }) => ({
        ...{ id, cleanUp, thinnestMm: lowestMm, thickestMm: highestMm },
      })),
      proof: proven.proof,
      warnings: this.warnings(setup, stocks, passes, proven.pieces),
    };
  }

  check(setup: Setup, text: Uint8Array): CheckResult {
    const { job } = this;
    const { machine, program } = job.shop;
    const stocks = setup.pieces.map((piece) => this.stock(piece));
    const { floorMm, zero } = levelsOf(setup, machine, stocks, job.units);
    const read = readProgram(text);
    const proven = prove(read.track, {
      ...{ setup, machine, units: job.units, workOffset: program.workOffset },
      ...{ stocks, marginMm: this.margin(setup), floorMm, zeroMm: zero },
    });
    // Of moves without a feed the proof tells every one.
    const findings: Finding[] = read.findings.filter(({ note, code }) => !note && code !== "no-feed");
    if (read.units === null && read.track.count > 0)
      findings.push({
        code: "units",
        line: 0,
        text: "never says G20 or G21: the same numbers may be inches or millimetres",
      });
    findings.push(...proven.findings);
    const ok = findings.length === 0;
    const times = trackTimes(read.track, machine);
    return {
      ok,
      findings,
      seconds: secondsOf(read.track, proven.took, times.seconds),
      proof: { ...proven.proof, ok },
    };
  }

  /** What the setups after this one find, as far as there are any. */
  private leave(setup: Setup, stocks: readonly Stock[], pieces: readonly ProvenPiece[]): void {
    const { setups } = this.job;
    const later = setups.slice(setups.indexOf(setup) + 1);
    pieces.forEach(({ cut, highestLeftMm }, k) => {
      const piece = setup.pieces[k];
      if (!later.some(({ pieces: used }) => used.includes(piece))) return;
      this.stocks.set(piece, cutStock(stocks[k], cut(), Math.min(stocks[k].highestMm, highestLeftMm)));
    });
  }

  private stock(piece: Piece): Stock {
    const stock = this.stocks.get(piece) ?? uncutStock(piece);
    this.stocks.set(piece, stock);
    return stock;
  }

  private scatter(piece: Piece): Scatter | null {
    if (piece.upper === null) return null;
    const scatter = this.scatters.get(piece) ?? scatterOf(piece.upper);
    this.scatters.set(piece, scatter);
    return scatter;
  }

  private margin(setup: Setup): number {
    if (setup.marginMm !== null) return setup.marginMm;
    return defaultMargin(setup.pieces.flatMap((piece) => this.scatter(piece) ?? []));
  }

  private fileName(setup: Setup): string {
    const number = String(this.job.setups.indexOf(setup) + 1).padStart(2, "0");
    const name = setup.id.replace(/[^A-Za-z0-9_-]+/g, "-").slice(0, 60);
    return `${number}-${name}.${this.job.shop.program.extension}`;
  }

  private warnings(
    setup: Setup,
    stocks: readonly Stock[],
    passes: PassesPlan,
    pieces: readonly ProvenPiece[],
  ): Warning[] {
    const { machine } = this.job.shop;
    const { units } = this.job;
    const depthMm = Math.max(...passes.layers.map(({ layer }) => layer.topMm - layer.zMm));
    const stepMm = setup.passes.stepoverShare * setup.cutter.diameterMm;
    return [
      ...stocks.flatMap((stock) => this.readingWarnings(stock)),
      ...this.marginWarnings(setup),
      ...pieces.flatMap((left) => pieceWarnings(left, setup)),
      ...lowKeepOutWarnings(setup, passes.floorMm, units),
      ...cuttingWarnings(setup, machine, stepMm, depthMm, passes.angleRad, units),
    ];
  }

  /** Says where a wide margin comes from: it costs layers, and more readings or better ones save them. */
  private marginWarnings(setup: Setup): Warning[] {
    const marginMm = this.margin(setup);
    if (setup.marginMm !== null || marginMm < WIDE_MARGIN_MM) return [];
    const { units } = this.job;
    return setup.pieces.flatMap((piece) => {
      const scatter = this.scatter(piece);
      if (scatter === null || defaultMargin([scatter]) < marginMm) return [];
      return {
        code: "wide-margin",
        text:
          `piece "${piece.id}": its readings are off each other by about ${formatLength(scatter.sigmaMm, units)}, so the margin is ` +
          `${formatLength(marginMm, units)}; check them, take more, or set "margin" yourself`,
      };
    });
  }

  private readingWarnings({ piece, face }: Stock): Warning[] {
    const scatter = this.scatter(piece);
    if (scatter === null) return [];
    const { units } = this.job;
    const found: Warning[] = [];
    for (const { x, y, z, missMm } of scatter.suspects.slice(0, 5))
      found.push({
        code: "suspect-reading",
        text:
          `piece "${piece.id}": the reading ${formatLength(z, units)} at ${formatPoint(x, y, units)} is ` +
          `${formatLength(Math.abs(missMm), units)} ${missMm > 0 ? "higher" : "lower"} than its neighbours say; measure it again`,
      });
    const outside = shareOutside(piece, face.covers);
    if (outside > 0.005)
      found.push({
        code: "outside-readings",
        text: `piece "${piece.id}": ${(100 * outside).toFixed(1)} % of the face lies beyond the outermost readings and is guessed from them`,
      });
    return found;
  }
}

function pieceWarnings(left: ProvenPiece, setup: Setup): Warning[] {
  const found: Warning[] = [];
  const percent = (share: number) => `${(100 * share).toFixed(1)} %`;
  if (left.cleanUp === 0 && left.belowFloor > 0)
    found.push({
      code: "piece-untouched",
      text: `piece "${left.id}" is not cut: its face lies below the floor`,
    });
  else if (left.belowFloor > 0.001 && setup.target.kind !== "cleanUp")
    found.push({
      code: "stays-rough",
      text: `piece "${left.id}": ${percent(left.belowFloor)} of the face lies below the floor and stays rough`,
    });
  if (left.underKeepOuts > 0)
    found.push({
      code: "under-keep-outs",
      text: `piece "${left.id}": ${percent(left.underKeepOuts)} of the face lies under or too near to keep-outs and stays as it is`,
    });
  return found;
}

/** Margins from here on are told, and why. */
const WIDE_MARGIN_MM = 1.5;
/** So little air over a keep-out deserves a second measurement. Common practice, no source. */
const THIN_AIR_MM = 3;

/** Keep-outs lower than the floor are cut over, as the job says; a tape's error is enough to hit one. */
function lowKeepOutWarnings(setup: Setup, floorMm: number, units: Units): Warning[] {
  return setup.keepOuts
    .filter(({ heightMm }) => heightMm < floorMm && floorMm - heightMm < THIN_AIR_MM)
    .map(({ name, heightMm }) => ({
      code: "thin-air",
      text: `keep-out "${name}" is only ${formatLength(floorMm - heightMm, units)} lower than the floor, so the cutter may pass right over it; measure it again`,
    }));
}

/** Share of the face outside its readings. */
function shareOutside(piece: Piece, covers: (x: number, y: number) => boolean): number {
  const box = boxOf([piece.outline]);
  const pitchMm = Math.sqrt(((box.maxX - box.minX) * (box.maxY - box.minY)) / 10_000);
  const grid = gridOver(box, pitchMm, 0);
  const mask = insideMask([piece.outline], grid);
  let [inside, outside] = [0, 0];
  for (let k = 0; k < mask.length; k++) {
    if (mask[k] === 0) continue;
    inside++;
    const x = grid.x0 + (k % grid.cols) * pitchMm;
    const y = grid.y0 + Math.floor(k / grid.cols) * pitchMm;
    if (!covers(x, y)) outside++;
  }
  return inside === 0 ? 0 : outside / inside;
}

// Telling ----------------------------------------------------------------------------------

function header(job: Job, setup: Setup, passes: PassesPlan): string[] {
  const { units } = job;
  const length = (mm: number) => formatLength(mm, units);
  const zero = setup.zero.z === "bed" ? "top of the bed" : "highest place of the piece";
  return [
    `${job.name} - ${setup.id}`,
    `pieces: ${setup.pieces.map((piece) => piece.id).join(", ")} - ${setup.face} face up`,
    `cutter: ${setup.cutter.name}, diameter ${length(setup.cutter.diameterMm)}`,
    `zero: X ${length(setup.zero.xMm)} Y ${length(setup.zero.yMm)} of the job, Z on the ${zero}`,
    `floor: ${length(passes.floorMm)} above the bed, Z ${length(passes.floorMm - passes.zeroMm.z)} here`,
  ];
}

function layerNotes(job: Job, passes: PassesPlan): { entry: number; text: string }[] {
  const { track, layers } = passes;
  const notes: { entry: number; text: string }[] = [];
  let before = -1;
  for (let k = 0; k < track.count; k++) {
    const index = track.layer[k];
    if (index === before || index < 0) continue;
    before = index;
    const { layer } = layers[index];
    const z = formatLength(layer.zMm - passes.zeroMm.z, job.units);
    const kind = layer.kind === "finish" ? ", finish" : "";
    notes.push({ entry: k, text: `layer ${index + 1} of ${layers.length}, Z ${z}${kind}` });
  }
  return notes;
}

/** Copies layers and rows from the planned track to the one that was read, by line. */
function tagAlike(read: Track, planned: Track): void {
  let from = 0;
  for (let k = 0; k < read.count; k++) {
    while (from < planned.count && planned.line[from] < read.line[k]) from++;
    if (from >= planned.count || planned.line[from] !== read.line[k]) continue;
    read.layer[k] = planned.layer[from];
    read.row[k] = planned.row[from];
  }
}

function report(
  track: Track,
  took: Uint8Array,
  passes: PassesPlan,
  job: Job,
): { seconds: Seconds; layers: LayerReport[] } {
  const times = trackTimes(track, job.shop.machine);
  const layerSeconds = new Float64Array(passes.layers.length);
  const lengths = new Float64Array(passes.layers.length);
  for (let k = 1; k < track.count; k++) {
    const layer = track.layer[k];
    if (layer < 0) continue;
    layerSeconds[layer] += times.seconds[k];
    if (took[k] === 0) continue;
    const [dx, dy, dz] = [
      track.x[k] - track.x[k - 1],
      track.y[k] - track.y[k - 1],
      track.z[k] - track.z[k - 1],
    ];
    lengths[layer] += Math.sqrt(dx * dx + dy * dy + dz * dz);
  }
  return {
    seconds: secondsOf(track, took, times.seconds),
    layers: passes.layers.map(({ layer, rows, areaMm2 }, k) => ({
      zMm: layer.zMm,
      depthMm: layer.topMm - layer.zMm,
      kind: layer.kind,
      rows,
      cutLengthMm: lengths[k],
      areaMm2,
      seconds: layerSeconds[k],
    })),
  };
}

function secondsOf(track: Track, took: Uint8Array, times: Float64Array): Seconds {
  let [cutting, linking, rapid, spindle] = [0, 0, 0, 0];
  for (let k = 0; k < track.count; k++) {
    if (track.kind[k] === Kind.rapid) rapid += times[k];
    else if (!isMotion(track.kind[k])) spindle += times[k];
    else if (took[k] === 1) cutting += times[k];
    else linking += times[k];
  }
  return { total: cutting + linking + rapid + spindle, cutting, linking, rapid, spindle };
}

function extentOf(track: Track): PlannedSetup["extentMm"] {
  const range = (values: Float64Array): [number, number] => {
    let [low, high] = [Number.POSITIVE_INFINITY, Number.NEGATIVE_INFINITY];
    for (let k = 0; k < track.count; k++) {
      if (values[k] < low) low = values[k];
      if (values[k] > high) high = values[k];
    }
    return [low, high];
  };
  const [x, y, z] = [range(track.x), range(track.y), range(track.z)];
  return { min: [x[0], y[0], z[0]], max: [x[1], y[1], z[1]] };
}

/** What people do around the machine's own time: load once, zero every setup, change between cutters. */
function handSeconds({ setups, shop }: Job): number {
  const { load, zero, cutterChange } = shop.handMinutes;
  const changes = setups.filter((setup, k) => k > 0 && setup.cutter.id !== setups[k - 1].cutter.id).length;
  return 60 * (load + zero * setups.length + cutterChange * changes);
}
