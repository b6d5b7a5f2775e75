// A made-up shop for tests: a gantry router with travel to spare and one surfacing cutter. Millimetres.

import type { RawShop } from "./judge-job.ts";

/** A shop whose one cutter is called "flat". */
export function plainShop(cutterDiameterMm: number, nose?: { diameter: number; above: number }): RawShop {
  return {
    format: "slabtrue-shop/1",
    units: "mm",
    machine: {
      name: "test gantry",
      travel: { x: 4000, y: 4000, z: 300 },
      feedLimit: { x: 15000, y: 15000, z: 4000 },
      rapid: { x: 20000, y: 20000, z: 6000 },
      acceleration: { x: 500, y: 500, z: 250 },
      cornerDeviation: 0.05,
      spindle: { speedMin: 6000, speedMax: 24000, powerKw: 3, efficiency: 0.8, spinUpSeconds: 8 },
      ...(nose ? { nose } : {}),
    },
    cutters: [
      {
        id: "flat",
        name: "insert surfacing cutter",
        diameter: cutterDiameterMm,
        edges: 3,
        speedMax: 18000,
        depthMax: 12,
        chipLoad: { min: 0.02, max: 0.6 },
        centreCutting: false,
      },
    ],
    program: {
      workOffset: "G54",
      comments: true,
      lineNumbers: false,
      toolChange: "none",
      extension: "nc",
      start: [],
      end: [],
    },
    rates: {
      currency: "CAD",
      machineHour: 95,
      labourHour: 65,
      minutes: { load: 20, turnOver: 15, cutterChange: 5, zero: 5 },
    },
    materials: [],
  };
}
