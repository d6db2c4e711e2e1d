import { Code, ConnectError, createClient } from '@connectrpc/connect';
import { useTransport } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { createContext, type ReactNode, useContext, useEffect, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { gather, refresh } from './refresh';
import { type Change, follow, type Link } from './share';

const LinkContext = createContext<Link>('starting');

/** Whether what is shown is live. */
export const useLink = (): Link => useContext(LinkContext);

/** How often a tab that somebody looks at asks whether the one that reads the stream is well. */
const checking = 5000;

/** Keeps everything below it up to date with the node. */
export function Live({ children }: { children: ReactNode }) {
  const transport = useTransport();
  const queries = useQueryClient();
  const [link, setLink] = useState<Link>('starting');

  useEffect(() => {
    const ledger = createClient(LedgerService, transport);
    const onChange = gather((change: Change) => refresh(queries, change));
    const everything: Change = { entries: 0, stateHash: '', records: [], many: true, peers: true };
    let stop: (() => void) | undefined;
    let check: (() => void) | undefined;
    const start = () => {
      if (stop) return;
      const channel = new BroadcastChannel('plumbline-stream');
      const following = follow({
        open: (signal) => ledger.watch({}, { signal }),
        isRefusal: (error) => ConnectError.from(error).code === Code.Unauthenticated,
        locks: navigator.locks,
        channel,
        pause,
        onChange,
        onLink: setLink,
      });
      check = following.check;
      stop = () => {
        following.stop();
        channel.close();
        stop = check = undefined;
      };
    };
    // A tab that is put to sleep hears nothing: it gives up the stream, and reads everything anew when it wakes.
    const sleep = () => stop?.();
    const wake = () => {
      if (stop) return;
      start();
      onChange(everything);
    };
    const look = () => {
      if (!document.hidden) check?.();
    };
    start();
    const looking = setInterval(look, checking);
    document.addEventListener('visibilitychange', look);
    document.addEventListener('freeze', sleep);
    document.addEventListener('resume', wake);
    addEventListener('pagehide', sleep);
    addEventListener('pageshow', wake);
    return () => {
      clearInterval(looking);
      document.removeEventListener('visibilitychange', look);
      document.removeEventListener('freeze', sleep);
      document.removeEventListener('resume', wake);
      removeEventListener('pagehide', sleep);
      removeEventListener('pageshow', wake);
      stop?.();
    };
  }, [transport, queries]);

  return <LinkContext value={link}>{children}</LinkContext>;
}

function pause(milliseconds: number, signal: AbortSignal): Promise<void> {
  return new Promise((resolve, reject) => {
    const timer = setTimeout(resolve, milliseconds);
    signal.addEventListener('abort', () => {
      clearTimeout(timer);
      reject(new Error('ended'));
    });
  });
}
