// What pieces are made of: density, and the energy it takes to cut. Densities of wood are of wood at 12 %
// moisture, weighed with its water: the specific gravity of the Wood Handbook (oven-dry mass over volume
// at 12 %) times 1.12. Cutting energies are a range to be on the safe side of, never a promise: they rise
// as edges dull and chips thin, and two to three times across the grain.

export interface Material {
  readonly name: string;
  readonly densityKgPerM3: number;
  /** Where a number comes from; "from memory" where the page itself was not at hand. */
  readonly densitySource: string;
  /** Specific cutting energy, J/cm³ (the same number in N/mm²). */
  readonly energyJPerCm3: { readonly low: number; readonly high: number; readonly source: string };
  /** What people write for it, lower case. */
  readonly words: readonly string[];
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

/** Stands in for what the table does not know. */
export const GENERAL_HARDWOOD = wood("general hardwood", 0.6, "common practice, no source", HARDWOOD, [
  "hardwood",
]);

const MATERIALS: readonly Material[] = [
  wood("walnut", 0.55, "FPL-GTR-83 (Alden 1995)", HARDWOOD, ["walnut"]),
  wood("white oak", 0.68, "public species table", DENSE_HARDWOOD, ["oak", "white oak"]),
  wood("red oak", 0.63, HANDBOOK, DENSE_HARDWOOD, ["red oak"]),
  wood("maple", 0.63, "maple flooring association's page on sugar maple", DENSE_HARDWOOD, ["maple"]),
  wood("ash", 0.6, "public species list, white ash", DENSE_HARDWOOD, ["ash"]),
  wood("beech", 0.64, HANDBOOK, DENSE_HARDWOOD, ["beech"]),
  wood("cherry", 0.5, "public species list, black cherry", HARDWOOD, ["cherry"]),
  wood("elm", 0.5, "public species list, American elm", HARDWOOD, ["elm"]),
  wood("western redcedar", 0.32, HANDBOOK, SOFTWOOD, ["cedar", "redcedar"]),
  wood("Douglas-fir", 0.48, HANDBOOK, SOFTWOOD, ["fir", "douglas fir", "softwood"]),
  wood("pine", 0.4, `${HANDBOOK}, ponderosa pine`, SOFTWOOD, ["pine"]),
  {
    name: "wood-based board",
    densityKgPerM3: 750,
    densitySource: "common practice, no source",
    energyJPerCm3: {
      low: 20,
      high: 50,
      source:
        "Palubicki, Materials 2021, 14, 2208: particleboard, 32.0 to 37.6 N/mm² in the mean; the width from memory",
    },
    words: ["mdf", "particleboard", "particle board", "chipboard", "plywood"],
  },
  GENERAL_HARDWOOD,
  {
    name: "resin",
    densityKgPerM3: 1100,
    densitySource: "from memory: clear casting epoxy, 1.08 to 1.15 g/cm³",
    energyJPerCm3: {
      low: 80,
      high: 200,
      source: "from memory, little to be relied on: neat epoxy at chips of 0.05 to 0.1 mm",
    },
    words: ["resin", "epoxy"],
  },
];

/**
 * The material a user means by `name`: "White Oak", "oak, quarter-sawn" and "european oak slab" are oak;
 * of several in one name ("walnut and epoxy") the one that is hardest to cut. Null for a name the table
 * does not know.
 */
export function materialNamed(name: string): Material | null {
  const text = ` ${name.toLowerCase().replace(/[^\p{L}]+/gu, " ")} `;
  let best: Material | null = null;
  let bestWord = "";
  for (const material of MATERIALS) {
    const word = longest(material.words.filter((candidate) => text.includes(` ${candidate} `)));
    if (word === "") continue;
    const harder = material.energyJPerCm3.high - (best?.energyJPerCm3.high ?? 0);
    if (harder > 0 || (harder === 0 && word.length > bestWord.length)) {
      best = material;
      bestWord = word;
    }
  }
  return best;
}

function longest(words: readonly string[]): string {
  return words.reduce((best, word) => (word.length > best.length ? word : best), "");
}

function wood(
  name: string,
  specificGravity: number,
  densitySource: string,
  energyJPerCm3: Material["energyJPerCm3"],
  words: readonly string[],
): Material {
  return { name, densityKgPerM3: specificGravity * 1120, densitySource, energyJPerCm3, words };
}
