// A machine that carries out probing programs on a face of known shape, statement by statement, as NISTIR 6556 has
// it. Its own reading of the text; stops with what would go wrong at a real one. Program coordinates, file units.

export interface Touch {
  readonly x: number;
  readonly y: number;
  /** Where it stopped. */
  readonly z: number;
  readonly recorded: boolean;
}

export interface Bench {
  /** Height of what stands at a place, program coordinates and units; 0 is the bed. */
  readonly heightAt: (x: number, y: number) => number;
  readonly recordOn: string;
  readonly recordOff: string;
  /** 0.01 inch or 0.254 mm. */
  readonly leastTouch: number;
}

export function carryOut(program: string, { heightAt, recordOn, recordOff, leastTouch }: Bench): Touch[] {
  const touches: Touch[] = [];
  let at = { X: Number.NaN, Y: Number.NaN, Z: Number.NaN };
  let motion = "";
  let feed = 0;
  let recording = false;
  let ended = false;
  for (const raw of program.trimEnd().split("\n")) {
    if (ended) throw new Error("lines after the end");
    const line = raw.replace(/^N\d+ /, "");
    if (line === recordOn || line === recordOff) recording = line === recordOn;
    if (/^\([^()]*\)$/.test(line)) continue;
    const words = line.split(" ");
    for (const word of words) {
      if (/^M[34]$/.test(word)) throw new Error("the spindle turns");
      if (word === "M30") ended = true;
      if (/^G(0|1|38\.2)$/.test(word)) motion = word;
      if (/^F/.test(word)) feed = Number(word.slice(1));
      if (/^(G91|G92|G28|G53)/.test(word)) throw new Error(`no use for ${word}`);
    }
    const axes = words.filter((word) => /^[XYZ]/.test(word));
    if (axes.length === 0) continue;
    const to = { ...at };
    for (const word of axes) to[word[0] as "X" | "Y" | "Z"] = Number(word.slice(1));
    if (motion === "G0") {
      if ((to.X !== at.X || to.Y !== at.Y) && !Number.isNaN(at.X)) {
        for (let t = 0; t <= 1; t += 1 / 256) {
          const z = heightAt(at.X + (to.X - at.X) * t, at.Y + (to.Y - at.Y) * t);
          if (!(at.Z > z && to.Z > z)) throw new Error(`a crash on the way to ${line}`);
        }
      }
      at = to;
    } else if (motion === "G38.2") {
      if (axes.length !== 1 || axes[0][0] !== "Z") throw new Error(`not straight down: ${line}`);
      if (!(feed > 0)) throw new Error("no feed");
      if (!(at.Z - to.Z > leastTouch)) throw new Error(`too near: ${line}`);
      const z = heightAt(at.X, at.Y);
      if (z < to.Z) throw new Error(`nothing touched: ${line}`);
      touches.push({ x: at.X, y: at.Y, z, recorded: recording });
      at = { ...to, Z: z };
    } else throw new Error(`no use for ${line}`);
  }
  if (!ended) throw new Error("no end");
  return touches;
}
