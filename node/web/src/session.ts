// How this browser is let in. The address that `plumbline run` prints ends in #launch=…; the token behind it works once
// and buys a session token, which this browser keeps. The page takes the launch token out of the address bar at once, so
// that it stands in no list of visited pages.

const key = 'plumbline.session';
/** Where a browser comes in that a file or a link sent here: the node lets it go nowhere else from outside. */
const arrival = '/open';

/** Whether this browser is in: it is, its address was used up, it never was, or it was let out. */
export type Entry = 'open' | 'used' | 'none' | 'ended';

interface Browser {
  location: Location;
  history: History;
  storage: Storage;
  fetch: typeof fetch;
}

const here = (): Browser => ({ location, history, storage: localStorage, fetch: fetch.bind(globalThis) });

export function sessionToken(storage: Storage = localStorage): string {
  return storage.getItem(key) ?? '';
}

/** Takes the launch token of the address, if there is one. A browser that was let in before stays in without. */
export async function enter(browser: Browser = here()): Promise<Entry> {
  const launch = new URLSearchParams(browser.location.hash.slice(1)).get('launch');
  if (launch) {
    const path = browser.location.pathname === arrival ? '/' : browser.location.pathname;
    browser.history.replaceState(browser.history.state, '', path + browser.location.search);
    // A node that goes away in between says nothing: who was in before stays in.
    const answer = await browser
      .fetch('/session', { method: 'POST', headers: { Authorization: `Bearer ${launch}` } })
      .catch(() => undefined);
    if (answer?.ok) {
      browser.storage.setItem(key, await answer.text());
      return 'open';
    }
  }
  if (sessionToken(browser.storage)) return 'open';
  return launch ? 'used' : 'none';
}

/** Calls back when another tab of this browser was let in. */
export function onEntered(then: () => void): () => void {
  const listen = (event: StorageEvent) => {
    if (event.key === key && event.newValue) then();
  };
  addEventListener('storage', listen);
  return () => removeEventListener('storage', listen);
}
