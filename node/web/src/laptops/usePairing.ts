import { createClient } from '@connectrpc/connect';
import { useTransport } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { useEffect, useRef, useState } from 'react';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { sentence } from '../transport';

/** A step as both sides have it. */
interface Step {
  step: string;
  pairing: string;
  code: string;
}

interface Progress<S> {
  step?: S;
  isUnderWay: boolean;
  /** The code was given; whether it is right, the next step says. */
  isAnswered: boolean;
  isWrong: boolean;
  trouble: string;
}

const still = { isUnderWay: false, isAnswered: false, isWrong: false, trouble: '' };
const cutShort = 'The pairing was cut short: start again on both laptops.';

/** One side of a pairing: the node's steps as they come, and the code that is given back. Leaving the page ends it. */
export function usePairing<S extends Step>() {
  const [progress, setProgress] = useState<Progress<S>>(still);
  const staff = createClient(StaffService, useTransport());
  const queries = useQueryClient();
  const running = useRef<AbortController>(undefined);
  useEffect(() => () => running.current?.abort(), []);

  const start = async (open: (client: typeof staff, signal: AbortSignal) => AsyncIterable<S>) => {
    running.current?.abort();
    const own = new AbortController();
    running.current = own;
    setProgress({ ...still, isUnderWay: true });
    let done = false;
    try {
      for await (const step of open(staff, own.signal)) {
        done = step.step === 'done';
        setProgress(({ step: before }) => ({ ...still, isUnderWay: !done, step, isWrong: isAskedAgain(before, step) }));
      }
      if (!done) throw new Error(cutShort);
      void queries.invalidateQueries();
    } catch (error) {
      if (own.signal.aborted) return;
      const trouble = error instanceof Error && error.message === cutShort ? cutShort : sentence(error);
      setProgress({ ...still, trouble });
    }
  };
  const answer = (typed: string) => {
    const pairing = progress.step?.pairing ?? '';
    setProgress({ ...progress, isAnswered: true, isWrong: false });
    // A refusal means that the pairing has ended meanwhile: its stream says how.
    staff.answer({ pairing, code: typed.replaceAll(' ', '') }).catch(() => undefined);
  };
  const end = () => {
    running.current?.abort();
    setProgress(still);
  };
  return { ...progress, start, answer, end };
}

/** The same code again means that what was typed here is wrong. */
const isAskedAgain = (before: Step | undefined, now: Step) =>
  now.step === 'code' && before?.step === 'code' && before.code === now.code;
