import { afterEach, expect, test, vi } from "vitest";
import { endWith } from "../../cli/outcome.ts";

const printed = { out: "", err: "" };
vi.spyOn(process.stdout, "write").mockImplementation((text) => {
  printed.out += text;
  return true;
});
vi.spyOn(process.stderr, "write").mockImplementation((text) => {
  printed.err += text;
  return true;
});

afterEach(() => {
  Object.assign(printed, { out: "", err: "" });
  process.exitCode = 0;
  vi.unstubAllEnvs();
});

test("when the fault is ours then the status is 1, it says so and asks for a report, without a stack", () => {
  endWith(new Error("slabtrue is at fault: no rows"), true);
  expect(process.exitCode).toBe(1);
  expect(printed.err).toContain("that is its fault, not yours: slabtrue is at fault: no rows");
  expect(printed.err).toContain("report this line together with your job file");
  expect(printed.err).not.toContain("outcome.test.ts");
  expect(JSON.parse(printed.out)).toMatchObject({ ok: false, errors: [{ code: "fault" }] });
});

test("when SLABTRUE_DEBUG is 1 then the stack is printed too", () => {
  vi.stubEnv("SLABTRUE_DEBUG", "1");
  endWith(new Error("no rows"), false);
  expect(printed.err).toContain("outcome.test.ts");
  expect(printed.out).toBe("");
});
