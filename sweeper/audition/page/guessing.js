// How likely it is to do as well by guessing, where each trial is one of two.

const Guessing = {
  /** The exact probability of at least `right` of `of` right answers by chance: sum of C(of, k) / 2^of, k >= right. */
  probability(right, of) {
    let ways = 0n;
    let choose = 1n; // C(of, k)
    for (let k = 0; k <= of; k++) {
      if (k >= right) ways += choose;
      choose = (choose * BigInt(of - k)) / BigInt(k + 1);
    }
    // one division of whole numbers, scaled so that neither is beyond what a number can hold
    const scale = 10n ** 40n;
    return Number((ways * scale) / 2n ** BigInt(of)) / 1e40;
  },

  /** The fewest right answers of `of` that chance gives at most as often as `level`, or null where even all are not enough. */
  needed(of, level) {
    for (let right = 0; right <= of; right++) if (Guessing.probability(right, of) <= level) return right;
    return null;
  },

  /** In words: "0.019" or "1 in 4096". */
  words(probability) {
    if (probability >= 0.001) return probability.toFixed(3);
    return `1 in ${Math.round(1 / probability)}`;
  },
};
