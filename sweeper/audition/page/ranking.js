// An order out of answers to "which of these two?", with few of them: merge insertion (L. R. Ford and S. M. Johnson, "A
// tournament problem", 1959), which needs at most 1, 3, 5, 7, 10, 13, 16 answers for 2 to 8 sounds.

const Ranking = {
  /**
   * What comes next. ids: in a random order that stays the same from answer to answer. answers: [[a, b, winner], ...];
   * of one pair the latest counts. Returns {order}, best first, or {ask: [a, b]}.
   */
  next(ids, answers) {
    const won = Ranking._winners(answers);
    let ask = null;
    const worse = (a, b) => {
      const winner = won.get(Ranking._pair(a, b));
      if (winner !== undefined) return winner === b;
      ask = [a, b];
      throw ask;
    };
    try {
      return { order: Ranking._sorted(ids, worse).reverse() };
    } catch (thrown) {
      if (thrown !== ask || ask === null) throw thrown;
      return { ask };
    }
  },

  /** Pairs of which the order only follows: two places apart. Their answers show whether preferences go in a circle. */
  checks(order, answers) {
    const won = Ranking._winners(answers);
    const pairs = [];
    for (let place = 0; place + 2 < order.length; place++)
      if (!won.has(Ranking._pair(order[place], order[place + 2]))) pairs.push([order[place], order[place + 2]]);
    return pairs;
  },

  /**
   * Circular triads: [a, b, c] where a was chosen over b, b over c, and c over a (M. G. Kendall and B. Babington Smith,
   * "On the method of paired comparisons", 1940).
   */
  triads(answers) {
    const won = Ranking._winners(answers);
    const ids = [...new Set(answers.flatMap(([a, b]) => [a, b]))].sort();
    const over = (a, b) => won.get(Ranking._pair(a, b)) === a;
    const found = [];
    ids.forEach((a, first) =>
      ids.slice(first + 1).forEach((b, second) =>
        ids.slice(first + second + 2).forEach((c) => {
          if (over(a, b) && over(b, c) && over(c, a)) found.push([a, b, c]);
          if (over(a, c) && over(c, b) && over(b, a)) found.push([a, c, b]);
        }),
      ),
    );
    return found;
  },

  /** The most answers that so many sounds can take: sum of ceil(log2(3k/4)) (Knuth, TAOCP 3, 5.3.1). */
  most(count) {
    let sum = 0;
    for (let k = 1; k <= count; k++) sum += Math.ceil(Math.log2((3 * k) / 4));
    return sum;
  },

  _pair: (a, b) => JSON.stringify(a < b ? [a, b] : [b, a]),

  _winners(answers) {
    return new Map(answers.map(([a, b, winner]) => [Ranking._pair(a, b), winner]));
  },

  /** Worst first. worse(a, b): whether a is. */
  _sorted(ids, worse) {
    if (ids.length < 2) return [...ids];
    const loserOf = new Map();
    for (let i = 0; i + 1 < ids.length; i += 2) {
      const [a, b] = [ids[i], ids[i + 1]];
      if (worse(a, b)) loserOf.set(b, a);
      else loserOf.set(a, b);
    }
    const winners = Ranking._sorted([...loserOf.keys()], worse);
    const losers = winners.map((winner) => loserOf.get(winner));
    if (ids.length % 2) losers.push(ids[ids.length - 1]); // who has no winner above
    const chain = [losers[0], ...winners];
    // then in groups that a whole number of halvings covers: 3 2, 5 4, 11 ... 6, and so on
    let [before, group] = [1, 3];
    while (before < losers.length) {
      for (let place = Math.min(group, losers.length); place > before; place--) {
        const bound = place <= winners.length ? chain.indexOf(winners[place - 1]) : chain.length;
        Ranking._insert(chain, losers[place - 1], bound, worse);
      }
      [before, group] = [group, group + 2 * before];
    }
    return chain;
  },

  /** By halving, among the first `bound` of the chain. */
  _insert(chain, id, bound, worse) {
    let [low, high] = [0, bound];
    while (low < high) {
      const middle = (low + high) >> 1;
      if (worse(id, chain[middle])) high = middle;
      else low = middle + 1;
    }
    chain.splice(low, 0, id);
  },
};
