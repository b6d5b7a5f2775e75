// Runs all benches and prints one line each; exits 1 when one misses its target.

import { benchClock } from "./clock.ts";
import { benchMachineTime } from "./machine-time.ts";
import { benchPreview } from "./preview.ts";
import { benchProcess } from "./process.ts";
import { benchProof } from "./proof.ts";
import { benchQuote } from "./quote.ts";
import { benchRs274 } from "./rs274.ts";
import { benchSeat } from "./seat.ts";

let missed = 0;
for (const bench of [
  benchProcess,
  benchQuote,
  benchProof,
  benchSeat,
  benchRs274,
  benchClock,
  benchMachineTime,
  benchPreview,
])
  for (const { name, ratio, target, detail } of await bench()) {
    const met = ratio <= target;
    if (!met) missed++;
    console.log(
      `${met ? "  " : "! "}${ratio.toFixed(3).padStart(8)}  of ${target.toString().padEnd(5)} ${name} (${detail})`,
    );
  }
process.exitCode = missed > 0 ? 1 : 0;
