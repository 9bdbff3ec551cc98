/**
 * What the page's own address says, after the `#`, which browsers do not send: the part, the
 * look, and for those who may control, the token.
 */

/** @returns {URLSearchParams} */
export function said() {
  return new URLSearchParams(location.hash.slice(1));
}

/**
 * @param {string} name
 * @param {string} value empty: leave it out
 */
export function say(name, value) {
  const words = said();
  if (value === "") words.delete(name);
  else words.set(name, value);
  history.replaceState(null, "", words.size > 0 ? `#${words}` : location.pathname);
}
