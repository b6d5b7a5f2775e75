// How wood moves, against printed numbers: Wood Handbook, USDA Forest Products Laboratory, FPL-GTR-190 (2010).

import { expect, test } from "vitest";
import { materialNamed } from "../../src/cutting/materials.ts";
import { movementMm } from "../../src/cutting/movement.ts";

// Shrinkage S from green to oven-dry, percent, radial and tangential, of table 4-3. Table 13-5 follows from it as
// C = 1 / (100 f / S - f + 10), f = 30 percent, 22 for western redcedar (the table's footnote, from memory).
// White oak is left out: table 13-5 gives the commercial group, table 4-3 the species.
test.each([
  ["black walnut", 5.5, 7.8, 30],
  ["white ash", 4.9, 7.8, 30],
  ["sugar maple", 4.8, 9.9, 30],
  ["black cherry", 3.7, 7.1, 30],
  ["American elm", 4.2, 9.5, 30],
  ["western redcedar", 2.4, 5.0, 22],
  ["Douglas-fir", 4.8, 7.6, 30],
])("the coefficients of %s follow from its shrinkage", (name, radial, tangential, saturation) => {
  const movement = materialNamed(name)?.movement;
  const expected = (shrinkage: number) => 1 / ((100 * saturation) / shrinkage - saturation + 10);
  expect(movement?.radial).toBeCloseTo(expected(radial), 5);
  expect(movement?.tangential).toBeCloseTo(expected(tangential), 5);
});

// Table 13-5 as printed (radial, tangential); redcedar and Douglas-fir from memory.
test.each([
  ["walnut", 0.0019, 0.00274],
  ["white ash", 0.00169, 0.00274],
  ["white oak", 0.0018, 0.00365],
  ["hard maple", 0.00165, 0.00353],
  ["black cherry", 0.00126, 0.00248],
  ["American elm", 0.00144, 0.00338],
  ["western redcedar", 0.00111, 0.00234],
  ["Douglas-fir", 0.00165, 0.00267],
])("%s has the coefficients of table 13-5", (name, radial, tangential) => {
  expect(materialNamed(name)?.movement).toMatchObject({ radial, tangential });
});

// By hand with the rule of chapter 13, change = size x coefficient x change of moisture.
test.each([
  ["walnut", "tangential", 500, 12, 8, -5.48],
  ["walnut", "radial", 50, 12, 8, -0.38],
  ["walnut", "tangential", 600, 8, 6, -3.288],
  ["white oak", "tangential", 900, 6, 10, 13.14],
] as const)("%s, %s, %d mm from %d to %d %%: %f mm", (name, way, size, now, inUse, change) => {
  const coefficient = materialNamed(name)?.movement?.[way] as number;
  expect(movementMm(size, coefficient, { now, inUse })).toBeCloseTo(change, 9);
});
