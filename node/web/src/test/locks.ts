type Held = () => Promise<unknown>;

/** Locks as browsers have them (W3C Web Locks), as far as the page uses them: one holder, the others wait in order. */
export function newLocks(): Pick<LockManager, 'request'> {
  const tails = new Map<string, Promise<unknown>>();
  const request = (name: string, options: { signal?: AbortSignal }, hold: Held) => {
    const before = tails.get(name) ?? Promise.resolve();
    const mine = before.then(() => {
      if (options.signal?.aborted) throw new DOMException('ended while it waited', 'AbortError');
      return hold();
    });
    tails.set(
      name,
      mine.catch(() => undefined),
    );
    return mine;
  };
  return { request: request as LockManager['request'] };
}
