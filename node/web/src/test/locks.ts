type Held = () => Promise<unknown>;

interface Request {
  hold: Held;
  resolve: (value: unknown) => void;
  reject: (reason: unknown) => void;
}

/**
 * Locks as browsers have them (W3C Web Locks), as far as the page uses them: one holder, the others wait in order. Who steals
 * one comes first; the request of who had it fails, while what it runs goes on.
 */
export function newLocks(): Pick<LockManager, 'request'> {
  const waiting = new Map<string, Request[]>();
  const holders = new Map<string, Request>();

  const grant = (name: string) => {
    if (holders.has(name)) return;
    const next = waiting.get(name)?.shift();
    if (!next) return;
    holders.set(name, next);
    const release = () => {
      if (holders.get(name) !== next) return;
      holders.delete(name);
      grant(name);
    };
    void next.hold().then(next.resolve, next.reject).finally(release);
  };
  const request = (name: string, options: { signal?: AbortSignal; steal?: boolean }, hold: Held) =>
    new Promise((resolve, reject) => {
      const mine = { hold, resolve, reject };
      const queue = waiting.get(name) ?? [];
      waiting.set(name, queue);
      if (options.steal) {
        queue.unshift(mine);
        holders.get(name)?.reject(new DOMException('stolen', 'AbortError'));
        holders.delete(name);
      } else queue.push(mine);
      options.signal?.addEventListener('abort', () => {
        const at = queue.indexOf(mine);
        if (at < 0) return;
        queue.splice(at, 1);
        reject(new DOMException('ended while it waited', 'AbortError'));
      });
      grant(name);
    });
  return { request: request as LockManager['request'] };
}
