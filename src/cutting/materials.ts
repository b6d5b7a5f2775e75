// What pieces are made of: density, the energy it takes to cut, and how wood moves with its moisture.
// Densities of wood are of wood at 12 % moisture, weighed with its water: the specific gravity of the Wood
// Handbook (oven-dry mass over volume at 12 %) times 1.12. Cutting energies are a range to be on the safe
// side of, never a promise: they rise as edges dull and chips thin, and two to three times across the grain.

import type { ShopMaterial } from "../job/job.ts";

export interface Material {
  readonly name: string;
  readonly kind: "wood" | "board" | "resin";
  readonly densityKgPerM3: number;
  /** Where a number comes from; "from memory" where the page itself was not at hand. */
  readonly densitySource: string;
  /** Specific cutting energy, J/cm³ (the same number in N/mm²). */
  readonly energyJPerCm3: { readonly low: number; readonly high: number; readonly source: string };
  /** Share of its size that it grows by for each percent of moisture; null: not in the table, or not of this kind. */
  readonly movement: Movement | null;
  /** What people write for it, lower case. */
  readonly words: readonly string[];
}

/** Dimensional change coefficients, across the growth rings and along them. */
export interface Movement {
  readonly radial: number;
  readonly tangential: number;
  readonly source: string;
}

const SOFTWOOD = {
  low: 6,
  high: 24,
  source: "from memory: about 12 N/mm² for dry softwood along the grain, half to twice that",
};
const HARDWOOD = {
  low: 10,
  high: 40,
  source: "from memory: 10 to 40 N/mm² for dry hardwood along the grain at chips of 0.1 to 0.5 mm",
};
const DENSE_HARDWOOD = {
  low: 15,
  high: 60,
  source: "from memory: about 30 N/mm² for oak and maple along the grain, half to twice that",
};

const HANDBOOK = "from memory: Wood Handbook, FPL-GTR-190, chapter 5";

/** Wood Handbook, FPL-GTR-190, table 13-5: change per 1 % of moisture, from 6 to 14 %. */
const moves = (radial: number, tangential: number, seen = ""): Movement => ({
  radial,
  tangential,
  source: `${seen}Wood Handbook, FPL-GTR-190, table 13-5`,
});
const FROM_MEMORY = "from memory: ";

/** Stands in for what the table does not know. */
export const GENERAL_HARDWOOD: Material = {
  ...wood("general hardwood", 0.6, "common practice, no source", HARDWOOD, ["hardwood"]),
  movement: {
    radial: 0.00126,
    tangential: 0.00365,
    source: "the least and the most of the hardwoods in this table",
  },
};

const MATERIALS: readonly Material[] = [
  wood("walnut", 0.55, "FPL-GTR-83 (Alden 1995)", HARDWOOD, ["walnut"], moves(0.0019, 0.00274)),
  wood(
    "white oak",
    0.68,
    "public species table",
    DENSE_HARDWOOD,
    ["oak", "white oak"],
    moves(0.0018, 0.00365, "white oaks as sold, "),
  ),
  wood("red oak", 0.63, HANDBOOK, DENSE_HARDWOOD, ["red oak"], moves(0.00158, 0.00369, FROM_MEMORY)),
  wood(
    "hard maple",
    0.63,
    "maple flooring association's page on sugar maple",
    DENSE_HARDWOOD,
    ["maple", "hard maple", "sugar maple"],
    moves(0.00165, 0.00353),
  ),
  wood(
    "ash",
    0.6,
    "public species list, white ash",
    DENSE_HARDWOOD,
    ["ash", "white ash"],
    moves(0.00169, 0.00274),
  ),
  wood("beech", 0.64, HANDBOOK, DENSE_HARDWOOD, ["beech"]),
  wood("cherry", 0.5, "public species list, black cherry", HARDWOOD, ["cherry"], moves(0.00126, 0.00248)),
  wood("elm", 0.5, "public species list, American elm", HARDWOOD, ["elm"], moves(0.00144, 0.00338)),
  wood(
    "western redcedar",
    0.32,
    HANDBOOK,
    SOFTWOOD,
    ["cedar", "redcedar", "western redcedar", "red cedar"],
    moves(0.00111, 0.00234, FROM_MEMORY),
  ),
  wood(
    "Douglas-fir",
    0.48,
    HANDBOOK,
    SOFTWOOD,
    ["fir", "douglas fir", "softwood"],
    moves(0.00165, 0.00267, `${FROM_MEMORY}coast type, `),
  ),
  wood("pine", 0.4, `${HANDBOOK}, ponderosa pine`, SOFTWOOD, ["pine"]),
  {
    name: "wood-based board",
    kind: "board",
    densityKgPerM3: 750,
    densitySource: "common practice, no source",
    energyJPerCm3: {
      low: 20,
      high: 50,
      source:
        "Palubicki, Materials 2021, 14, 2208: particleboard, 32.0 to 37.6 N/mm² in the mean; the width from memory",
    },
    movement: null,
    words: ["mdf", "particleboard", "particle board", "chipboard", "plywood"],
  },
  GENERAL_HARDWOOD,
  {
    name: "resin",
    kind: "resin",
    densityKgPerM3: 1100,
    densitySource: "from memory: clear casting epoxy, 1.08 to 1.15 g/cm³",
    energyJPerCm3: {
      low: 80,
      high: 200,
      source: "from memory, little to be relied on: neat epoxy at chips of 0.05 to 0.1 mm",
    },
    movement: null,
    words: ["resin", "epoxy"],
  },
];

/**
 * The material a user means by `name`: "White Oak", "oak, quarter-sawn" and "european oak slab" are oak;
 * of several in one name ("walnut and epoxy") the one that is hardest to cut. What the shop adds comes
 * before the table where it is named as such or closer: "claro walnut" before "walnut". Null for a name
 * that neither knows.
 */
export function materialNamed(name: string, shop: readonly ShopMaterial[] = []): Material | null {
  return hardest(namedIn(name, shop));
}

/** As `materialNamed`, but resin named beside the wood does not count: "walnut and epoxy" is walnut. */
export function woodNamed(name: string, shop: readonly ShopMaterial[] = []): Material | null {
  return hardest(namedIn(name, shop).filter(({ material }) => material.kind !== "resin"));
}

/** The resin a user means by `name`, or the table's. */
export function resinNamed(name: string, shop: readonly ShopMaterial[] = []): Material {
  const found = hardest(namedIn(name, shop).filter(({ material }) => material.kind === "resin"));
  return found ?? (materialNamed("resin", shop) as Material);
}

interface Found {
  readonly material: Material;
  readonly word: string;
}

/** All materials that a name speaks of, each by its closest word. */
function namedIn(name: string, shop: readonly ShopMaterial[]): Found[] {
  const text = plainWords(name);
  const found = [...MATERIALS, ...shop.map(added)].flatMap((material) =>
    material.words.filter((word) => text.includes(` ${word} `)).map((word) => ({ material, word })),
  );
  // Of "red oak" the oak alone does not count; of a word that two know the shop's own, which comes last.
  return found.filter(
    ({ word }, k) =>
      !found.some(
        (other, n) =>
          (other.word !== word && ` ${other.word} `.includes(` ${word} `)) || (other.word === word && n > k),
      ),
  );
}

function hardest(found: readonly Found[]): Material | null {
  let best: Found | null = null;
  for (const each of found) {
    const harder = each.material.energyJPerCm3.high - (best?.material.energyJPerCm3.high ?? 0);
    if (harder > 0 || (harder === 0 && each.word.length > (best?.word.length ?? 0))) best = each;
  }
  return best?.material ?? null;
}

/** A shop's own material: what it does not state is as the table has it for that name, else as of a hardwood. */
function added({ name, densityKgPerM3, energyJPerCm3, movement, source }: ShopMaterial): Material {
  const like = materialNamed(name) ?? GENERAL_HARDWOOD;
  return {
    name,
    kind: like.kind,
    densityKgPerM3: densityKgPerM3 ?? like.densityKgPerM3,
    densitySource: densityKgPerM3 === null ? like.densitySource : source,
    energyJPerCm3: energyJPerCm3 === null ? like.energyJPerCm3 : { ...energyJPerCm3, source },
    movement: movement === null ? like.movement : { ...movement, source },
    words: [plainWords(name).trim()],
  };
}

/** A name's words in lower case, a blank before and after each. */
function plainWords(name: string): string {
  return ` ${name
    .toLowerCase()
    .replace(/[^\p{L}]+/gu, " ")
    .trim()} `;
}

function wood(
  name: string,
  specificGravity: number,
  densitySource: string,
  energyJPerCm3: Material["energyJPerCm3"],
  words: readonly string[],
  movement: Movement | null = null,
): Material {
  return {
    ...{ name, kind: "wood" as const, densityKgPerM3: specificGravity * 1120, densitySource },
    ...{ energyJPerCm3, movement, words },
  };
}
