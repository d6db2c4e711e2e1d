// How this browser is let in. The address that `plumbline run` prints ends in #launch=…; the token behind it works once
// and buys a session token, which this browser keeps. The page takes the launch token out of the address bar at once, so
// that it stands in no list of visited pages.

const key = 'plumbline.session';

export type Entry = 'open' | 'used' | 'none';

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
    browser.history.replaceState(browser.history.state, '', browser.location.pathname + browser.location.search);
    const answer = await browser.fetch('/session', { method: 'POST', headers: { Authorization: `Bearer ${launch}` } });
    if (answer.ok) {
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
