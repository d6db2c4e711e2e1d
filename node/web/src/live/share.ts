// One live stream for all tabs of a browser. A browser keeps six connections to an address: a stream for each tab would
// hang the seventh. The tab that holds the lock reads the stream and tells the others; when it closes, or the browser puts
// it to sleep, the lock goes to another tab, which opens the stream anew.

export interface Change {
  entries: number;
  stateHash: string;
  records: readonly string[];
  /** Too many records to name: everything may have changed. */
  many: boolean;
  peers: boolean;
}

export type Link = 'starting' | 'live' | 'away' | 'refused';

type Note = { kind: 'change'; change: Change } | { kind: 'link'; link: Link } | { kind: 'ask' };

export interface Sharing {
  open: (signal: AbortSignal) => AsyncIterable<Change>;
  isRefusal: (error: unknown) => boolean;
  locks: Pick<LockManager, 'request'>;
  channel: BroadcastChannel;
  pause: (milliseconds: number, signal: AbortSignal) => Promise<void>;
  onChange: (change: Change) => void;
  onLink: (link: Link) => void;
}

const lockName = 'plumbline-stream';
const firstPause = 250;
const longestPause = 5000;

/** Follows the stream until the returned function is called. */
export function follow(s: Sharing): () => void {
  const ending = new AbortController();
  const { signal } = ending;
  let link: Link = 'starting';
  let leads = false;

  const setLink = (next: Link) => {
    if (next === link) return;
    link = next;
    s.onLink(next);
  };
  const tell = (note: Note) => {
    if (!signal.aborted) s.channel.postMessage(note);
  };
  s.channel.onmessage = (event: MessageEvent<Note>) => {
    const note = event.data;
    if (note.kind === 'ask') {
      if (leads) tell({ kind: 'link', link });
    } else if (note.kind === 'link') setLink(note.link);
    else s.onChange(note.change);
  };

  const lead = async () => {
    leads = true;
    let hash = '';
    let wait = firstPause;
    while (!signal.aborted) {
      let first = true;
      try {
        for await (const change of s.open(signal)) {
          wait = firstPause;
          if (first) {
            setLink('live');
            tell({ kind: 'link', link });
          }
          // What changed while nobody listened isn't named; the hash tells whether anything did.
          const missed = first && change.stateHash !== hash;
          first = false;
          hash = change.stateHash;
          const told = missed ? { ...change, many: true } : change;
          s.onChange(told);
          tell({ kind: 'change', change: told });
        }
      } catch (error) {
        if (s.isRefusal(error)) {
          setLink('refused');
          tell({ kind: 'link', link });
          return;
        }
      }
      if (signal.aborted) return;
      setLink('away');
      tell({ kind: 'link', link });
      await s.pause(wait, signal).catch(() => undefined);
      wait = Math.min(wait * 2, longestPause);
    }
  };

  tell({ kind: 'ask' });
  s.locks.request(lockName, { signal }, lead).catch(() => undefined); // ended while it waited
  return () => {
    leads = false;
    ending.abort();
    s.channel.onmessage = null;
  };
}
