import { useQuery } from '@connectrpc/connect-query';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { useKept } from '../value/useKept';
import { type Chosen, type Place, placesOf, proposalOf } from './places';

/** One of the texts: the number under which the page shows it, and who wrote it. */
export interface MergeSide {
  number: number;
  text: string;
  by: string;
}

export interface Merge {
  sides: readonly MergeSide[];
  places: readonly Place[];
  hasAncestor: boolean;
  chosen: Chosen;
  choose: (place: string, text: string) => void;
  /** The merged text; undefined while something is to be chosen, or the node hasn't answered. */
  proposal: string | undefined;
  error: Error | null;
}

/** Merges texts, which takes two at least, on the node. What was chosen is kept like what is typed. */
export function useMerge(about: string, ancestor: string | undefined, sides: readonly MergeSide[]): Merge & { forget: () => void } {
  const input = { ...(ancestor !== undefined && { ancestor }), texts: sides.map((side) => side.text) };
  const answer = useQuery(LedgerService.method.merge, input, { enabled: sides.length > 1 && sides.length <= most });
  const [kept, keep] = useKept(`${about}/places`);
  const chosen = readChosen(kept);
  const places = placesOf(answer.data?.parts ?? []);
  return {
    sides,
    places,
    hasAncestor: ancestor !== undefined,
    chosen,
    choose: (place, text) => keep(JSON.stringify({ ...chosen, [place]: text })),
    proposal: answer.data && proposalOf(places, chosen),
    error: answer.error,
    forget: () => keep(''),
  };
}

/** More texts than the node merges are not merged: they are chosen from as they are. */
const most = 16;

/** What was kept by another version of the page may not be read: then nothing is chosen yet. */
function readChosen(kept: string): Chosen {
  if (kept === '') return {};
  try {
    return JSON.parse(kept) as Chosen;
  } catch {
    return {};
  }
}
