import { useQuery } from '@connectrpc/connect-query';
import { type Conflict, type KindInfo, LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { NodeService, type StatusResponse } from '../gen/plumbline/v1/node_pb';
import type { Record } from '../gen/plumbline/v1/record_pb';
import { plainName } from '../parts/words';

/** Why this laptop can't write a record, or a new one of the kind; empty if it can. The node judges; this says it beforehand. */
export function whyNot(status: StatusResponse | undefined, kind: KindInfo | undefined, record?: Record): string {
  if (!status || !kind) return '';
  if (status.role === '') return status.trouble || 'This laptop can only read.';
  const name = plainName(kind.name);
  if (kind.rights === 'director' && status.role !== 'director') return `Only a director may write ${article(name)} ${name}.`;
  if (kind.rights === 'owned' && record && record.person !== status.person) {
    const whose = `This ${name} is ${record.personName || 'somebody else'}’s: only they can change it.`;
    return kind.name === 'person' || kind.name === 'device' ? whose : `${whose} Write one of your own.`;
  }
  return '';
}

/**
 * Whose it is to settle a conflict, if it isn't this laptop's; empty where this laptop may, and while nothing is known yet. The
 * node judges; this says it before anything is pressed.
 */
export function whoseToSettle(status: StatusResponse | undefined, kind: KindInfo | undefined, conflict: Conflict): string {
  if (!status || !kind || status.role === '') return '';
  if (kind.rights === 'director' && status.role !== 'director') return 'a director’s';
  if (kind.rights === 'owned' && conflict.person !== status.person) return conflict.personName ? `${conflict.personName}’s` : 'somebody else’s';
  return '';
}

export const article = (noun: string) => (/^[aeiou]/.test(noun) ? 'an' : 'a');

/** The kinds of records by name, and what this laptop may do with them. */
export function useRights() {
  const kinds = useQuery(LedgerService.method.schema, {}).data?.kinds ?? [];
  const status = useQuery(NodeService.method.status).data;
  const kindOf = (name: string) => kinds.find((kind) => kind.name === name);
  return {
    kinds,
    kindOf,
    status,
    whyNot: (kind: string, record?: Record) => whyNot(status, kindOf(kind), record),
    whoseToSettle: (conflict: Conflict) => whoseToSettle(status, kindOf(conflict.kind), conflict),
  };
}
