import { expect, test } from "vitest";
import { materialNamed } from "../../src/cutting/materials.ts";

test.each([
  ["white oak", "white oak"],
  ["White OAK", "white oak"],
  ["oak, quarter-sawn", "white oak"],
  ["European oak slab", "white oak"],
  ["Red Oak", "red oak"],
  ["black_walnut", "walnut"],
  ["western red cedar", "western redcedar"],
  ["Douglas-fir", "Douglas-fir"],
  ["epoxy", "resin"],
  ["walnut and epoxy river", "resin"],
  ["some hardwood", "general hardwood"],
  ["MDF, 18 mm", "wood-based board"],
])("%s is taken for %s", (name, material) => {
  expect(materialNamed(name)?.name).toBe(material);
});

test.each(["", "purpleheart", "soaked", "ashen", "constructor"])("%j is not in the table", (name) => {
  expect(materialNamed(name)).toBeNull();
});
