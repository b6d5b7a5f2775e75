// Numbers by chance that are the same on every machine: seeded, and made with integers, +, - and * alone.

/** A stream of numbers for one seed; streams of one seed have nothing to do with each other. */
export class Dice {
  private state: number;

  constructor(seed: number, stream: number) {
    this.state = mixed(mixed(seed >>> 0) ^ Math.imul(stream + 1, 0x9e3779b1));
  }

  /** From 0 up to, without, 1. */
  share(): number {
    this.state = (this.state + 0x6d2b79f5) | 0;
    return mixed(this.state) / 2 ** 32;
  }

  /**
   * About normally distributed, mean 0, standard deviation 1: the sum of twelve shares less six (Irwin and Hall),
   * so never beyond 6.
   */
  normal(): number {
    let sum = -6;
    for (let k = 0; k < 12; k++) sum += this.share();
    return sum;
  }
}

/** All bits of a number depend on all bits of the other: xor, shift and multiply, as hash functions end with. */
function mixed(value: number): number {
  let bits = value | 0;
  bits = Math.imul(bits ^ (bits >>> 16), 0x21f0aaad);
  bits = Math.imul(bits ^ (bits >>> 15), 0x735a2d97);
  return (bits ^ (bits >>> 15)) >>> 0;
}
