// How the tests dress programs: nothing but what every program has.

import type { ProgramStyle } from "../../src/job/job.ts";

export const plainStyle: ProgramStyle = {
  workOffset: 54,
  comments: true,
  lineNumbers: false,
  toolChange: "none",
  extension: "nc",
  start: [],
  end: [],
};
