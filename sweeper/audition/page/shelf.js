// What the browser keeps for this address. It may be told to keep nothing: then nothing is there, and the page goes on.

const Shelf = {
  get(key) {
    try {
      return localStorage.getItem(key);
    } catch {
      return null;
    }
  },

  /** Whether it is kept. */
  put(key, text) {
    try {
      localStorage.setItem(key, text);
      return true;
    } catch {
      return false;
    }
  },

  drop(key) {
    try {
      localStorage.removeItem(key);
    } catch {
      // what keeps nothing has nothing to drop
    }
  },
};
