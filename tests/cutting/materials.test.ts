import { describe, expect, test } from "vitest";
import { materialNamed, resinNamed, woodNamed } from "../../src/cutting/materials.ts";

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

test.each([
  ["walnut and epoxy river", "walnut"],
  ["epoxy", undefined],
  ["", undefined],
])("the wood of %j is %s", (name, wood) => {
  expect(woodNamed(name)?.name).toBe(wood);
});

describe("what a shop adds", () => {
  const claro = {
    name: "Claro walnut",
    densityKgPerM3: 640,
    energyJPerCm3: null,
    movement: null,
    source: "weighed",
  };
  const table = materialNamed("walnut");

  test("it comes before the table where it is named closer, and keeps the rest of what it is like", () => {
    const found = materialNamed("slab of claro walnut", [claro]);
    expect(found).toMatchObject({ name: "Claro walnut", densityKgPerM3: 640, densitySource: "weighed" });
    expect(found?.energyJPerCm3).toEqual(table?.energyJPerCm3);
    expect(found?.movement).toEqual(table?.movement);
    expect(materialNamed("walnut", [claro])).toEqual(table);
  });

  test("it takes the place of what the table has under the same name", () => {
    const softer = { ...claro, name: "walnut", energyJPerCm3: { low: 5, high: 20 } };
    expect(materialNamed("black walnut", [softer])?.energyJPerCm3).toEqual({
      low: 5,
      high: 20,
      source: "weighed",
    });
  });

  test("a wood that nothing is like is taken for general hardwood, but for what it states", () => {
    const found = materialNamed("mesquite", [{ ...claro, name: "mesquite" }]);
    expect(found?.energyJPerCm3.high).toBe(40);
    expect(found?.kind).toBe("wood");
  });

  test("a resin of the shop's is resin", () => {
    const own = { ...claro, name: "deep-pour epoxy", energyJPerCm3: { low: 60, high: 120 } };
    expect(resinNamed("walnut and deep-pour epoxy", [own]).energyJPerCm3.high).toBe(120);
    expect(resinNamed("walnut", [own]).energyJPerCm3.high).toBe(200);
  });
});

test("every number of the table has a source", () => {
  for (const name of [
    "walnut",
    "white oak",
    "red oak",
    "hard maple",
    "ash",
    "beech",
    "cherry",
    "elm",
    "cedar",
    "fir",
    "pine",
    "mdf",
    "hardwood",
    "resin",
  ]) {
    const material = materialNamed(name);
    expect(material?.densitySource).not.toBe("");
    expect(material?.energyJPerCm3.source).not.toBe("");
    if (material?.movement) expect(material.movement.source).not.toBe("");
  }
});
