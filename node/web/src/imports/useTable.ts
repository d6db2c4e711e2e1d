import { useMutation } from '@connectrpc/connect-query';
import { useRef, useState } from 'react';
import { LedgerService, Namesakes } from '../gen/plumbline/v1/ledger_pb';
import { count } from '../parts/words';
import { sentence } from '../transport';

export type Pairs = { readonly [name: string]: string };

/** What goes for the whole table. */
export interface About {
  kind: string;
  source: string;
  /** Where its numbers come from, if no column says it. */
  origin: string;
  /** The sheet of a workbook. */
  sheet: string;
  /** Head to field; "-" leaves a column out. */
  map: Pairs;
  /** Field to what every row gets. */
  fill: Pairs;
  /** What rows are about that have the name of a prospect who is here; of this file only. */
  namesakes: Namesakes;
}

interface File {
  name: string;
  data: Uint8Array<ArrayBuffer>;
}

const most = 64 << 20;
const nothing: About = { kind: 'prospect', source: '', origin: '', sheet: '', map: {}, fill: {}, namesakes: Namesakes.UNSPECIFIED };

/** A table on its way in: what the node reads of it, what it would change, and bringing it in. The node alone reads it. */
export function useTable() {
  const [about, setAbout] = useState(nothing);
  const latest = useRef(nothing);
  const turn = useRef(0);
  const [file, setFile] = useState<File>();
  const [trouble, setTrouble] = useState('');
  const outline = useMutation(LedgerService.method.outline);
  const preview = useMutation(LedgerService.method.import);
  const call = useMutation(LedgerService.method.import);

  const hold = (next: About) => {
    latest.current = next;
    setAbout(next);
  };
  const forget = () => {
    call.reset();
    preview.reset();
    setTrouble('');
  };
  /** Reads the heads, then says what the table would change. */
  const read = async (next: About, of: File) => {
    forget();
    outline.reset();
    const mine = ++turn.current;
    try {
      const { sheet, columns } = await outline.mutateAsync({ kind: next.kind, data: of.data, file: of.name, sheet: next.sheet });
      if (mine !== turn.current) return; // another file, kind or sheet is being read by now
      // What was said of columns holds for those of this sheet only: the node refuses to map one that isn't there.
      const heads = columns.map((column) => column.head);
      const map = Object.fromEntries(Object.entries(latest.current.map).filter(([head]) => heads.includes(head)));
      const known = { ...latest.current, sheet, map };
      hold(known);
      preview.mutate({ ...request(known, of), dryRun: true });
    } catch {
      return; // said by the page
    }
  };
  /** Changes what is said of the table; another kind or sheet is read anew. */
  const say = (change: Partial<About>) => {
    const isOther = 'kind' in change || 'sheet' in change;
    const next = { ...latest.current, ...(isOther && { namesakes: Namesakes.UNSPECIFIED }), ...change };
    hold(next);
    if (!file) return;
    if (isOther) return void read(next, file);
    forget();
    preview.mutate({ ...request(next, file), dryRun: true });
  };
  const choose = async (chosen: globalThis.File | undefined) => {
    if (!chosen) return;
    forget();
    outline.reset();
    setFile(undefined);
    if (chosen.size > most) {
      setTrouble(`${chosen.name} is larger than 64 MiB: split it.`);
      return;
    }
    const of = { name: chosen.name, data: new Uint8Array(await chosen.arrayBuffer()) };
    setFile(of);
    const next = { ...latest.current, sheet: '', namesakes: Namesakes.UNSPECIFIED };
    hold(next);
    await read(next, of);
  };
  const bring = (partial: boolean) => {
    if (file) call.mutate({ ...request(about, file), partial }, { onSuccess: (answer) => !answer.dryRun && setFile(undefined) });
  };
  const error = call.error ?? preview.error ?? outline.error;
  return {
    about,
    /** Only noted, to be taken up with the next reading. */
    note: (change: Partial<About>) => hold({ ...latest.current, ...change }),
    say,
    choose,
    bring,
    file: file && `${file.name}, ${count(outline.data?.rows ?? 0, 'row')}`,
    outline: file && outline.data,
    preview: file && preview.data,
    done: call.data && !call.data.dryRun ? call.data : undefined,
    isBusy: call.isPending || outline.isPending || preview.isPending,
    trouble: trouble || (error ? sentence(error) : ''),
  };
}

function request({ kind, source, origin, sheet, map, fill, namesakes }: About, { name, data }: File) {
  const defaults: { [field: string]: string } = origin === '' ? { ...fill } : { source: origin, ...fill };
  return { kind, source, file: name, data, sheet, headers: { ...map }, defaults, namesakes };
}
