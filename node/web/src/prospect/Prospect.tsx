import { type JsonObject } from '@bufbuild/protobuf';
import { useQuery } from '@connectrpc/connect-query';
import { Link, useNavigate, useParams } from '@tanstack/react-router';
import { type ReactNode, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { useKeys } from '../keys/useKeys';
import { count, plainName } from '../parts/words';
import { useListState } from '../prospects/listState';
import { sentence } from '../transport';
import { ValueView } from '../value/ValueView';
import { Evaluations } from './Evaluations';
import { ofKind, textIn } from './fields';
import { History } from './History';
import { Looks } from './Looks';
import { Measurements } from './Measurements';
import { RecordFields } from './RecordFields';
import './prospect.css';

/** Everything that is known of one prospect. */
export function Prospect() {
  const { id } = useParams({ from: '/prospects/$id' });
  const { order, setCurrent } = useListState();
  const [history, setHistory] = useState(false);
  const navigate = useNavigate();
  const answer = useQuery(LedgerService.method.get, { record: id });

  const go = (step: number) => {
    const next = order[order.indexOf(id) + step];
    if (next === undefined || !order.includes(id)) return;
    setCurrent(next);
    void navigate({ to: '/prospects/$id', params: { id: next } });
  };
  useKeys({
    back: () => void navigate({ to: '/' }),
    next: () => go(1),
    previous: () => go(-1),
    settleHere: () => void navigate({ to: '/conflicts', search: { record: id } }),
    edit: () => document.querySelector<HTMLElement>('.edit')?.focus(),
    history: () => setHistory((shown) => !shown),
  });

  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  const record = answer.data?.record;
  if (!record) return <main className="text-page" aria-busy="true" />;
  const related = answer.data?.related ?? [];
  const summary: JsonObject = answer.data?.summary ?? {};
  return (
    <main className="prospect">
      <Title record={record} summary={summary} />
      <Part title="Record">
        <RecordFields key={record.id} record={record} />
      </Part>
      <Part title="Measurements">
        <Measurements related={related} summary={summary} />
      </Part>
      <Part title="Looks">
        <Looks related={related} />
      </Part>
      <Part title="Evaluations">
        <Evaluations related={related} />
      </Part>
      <Remarks related={related} />
      <Part title="History">
        <button type="button" aria-expanded={history} onClick={() => setHistory(!history)}>
          {history ? 'Hide' : 'Show'} every entry on his record <kbd>h</kbd>
        </button>
        {history && <History record={id} />}
      </Part>
    </main>
  );
}

function Part({ title, children }: { title: string; children: ReactNode }) {
  return (
    <section className="part">
      <h2>{title}</h2>
      <div>{children}</div>
    </section>
  );
}

function Title({ record, summary }: { record: Record; summary: JsonObject }) {
  const disputed = record.fields.filter((field) => field.conflict).length;
  const figures: [string, string][] = [
    ['looks', String(summary.looks ?? 0)],
    ['reps', String(summary.reps ?? 0)],
    ['won', typeof summary.won_share === 'number' ? summary.won_share.toFixed(2) : '—'],
    ['evaluations', String(summary.evaluations ?? 0)],
    ['overall', typeof summary.overall === 'number' ? summary.overall.toFixed(2) : '—'],
  ];
  const line = [plainName(textIn(record, 'position')), textIn(record, 'school'), textIn(record, 'class_year')];
  return (
    <header className="title">
      <div>
        <h1>{record.title}</h1>
        <p>{line.filter((text) => text !== '').join(', ')}</p>
        {record.visibility === Visibility.HIDDEN && <p className="notice">He was retired: lists leave him out.</p>}
        {disputed > 0 && (
          <p>
            <Link to="/conflicts" search={{ record: record.id }} className="differs">
              ≠ {count(disputed, 'field')} to settle
            </Link>{' '}
            <kbd>c</kbd>
          </p>
        )}
      </div>
      <dl className="figures">
        {figures.map(([name, text]) => (
          <div key={name}>
            <dt>{name}</dt>
            <dd>{text}</dd>
          </div>
        ))}
      </dl>
    </header>
  );
}

/** Notes, claims and flags: what people wrote about him besides. */
function Remarks({ related }: { related: readonly Record[] }) {
  const remarks = ['flag', 'claim', 'note'].flatMap((kind) => ofKind(related, kind));
  if (remarks.length === 0) return null;
  return (
    <Part title="Remarks">
      {remarks.map((remark) => (
        <dl key={remark.id} className="record remark">
          {remark.fields
            .filter((field) => field.name !== 'prospect' && field.name !== 'evaluation')
            .map((field) => (
              <div key={field.name}>
                <dt>{field.label}</dt>
                <dd>
                  <ValueView field={field} />
                </dd>
              </div>
            ))}
        </dl>
      ))}
    </Part>
  );
}
