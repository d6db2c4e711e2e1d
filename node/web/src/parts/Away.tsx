import { useEffect, useState } from 'react';
import { useLink } from '../live/Live';
import { two } from './dates';

/** A node that is started anew is back by then, and needs no word. */
const patience = 3000;

/** What to do when the node stays away. */
export function Away() {
  const link = useLink();
  const [since, setSince] = useState<Date>();
  useEffect(() => {
    if (link !== 'away') return;
    const began = new Date();
    const timer = setTimeout(() => setSince(began), patience);
    return () => {
      clearTimeout(timer);
      setSince(undefined);
    };
  }, [link]);
  if (since === undefined) return null;
  return (
    <p className="notice away" role="alert">
      The node hasn’t answered since {two(since.getHours())}:{two(since.getMinutes())}. What you see is from then; what you type stays
      here until it can be saved. To start it, type <code>plumbline run</code> on the laptop: this page goes on by itself. If it runs
      and this page doesn’t, it has another address now, which <code>plumbline open</code> opens.
    </p>
  );
}
