// Chance that nobody can foresee: orders and hidden sounds are drawn from the browser's cryptographic source.

const Chance = {
  /** A whole number from 0 to below `count`, all equally likely: what would favour some is drawn again. */
  below(count) {
    const most = Math.floor(2 ** 32 / count) * count;
    const drawn = new Uint32Array(1);
    do crypto.getRandomValues(drawn);
    while (drawn[0] >= most);
    return drawn[0] % count;
  },

  /** The list in a random order (Fisher and Yates, Durstenfeld's form); the list itself stays as it is. */
  shuffled(list) {
    const mixed = [...list];
    for (let last = mixed.length - 1; last > 0; last--) {
      const other = Chance.below(last + 1);
      [mixed[last], mixed[other]] = [mixed[other], mixed[last]];
    }
    return mixed;
  },
};
