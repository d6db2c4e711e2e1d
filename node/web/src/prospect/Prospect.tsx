import { type JsonObject } from '@bufbuild/protobuf';
import { useQuery } from '@connectrpc/connect-query';
import { Link, useNavigate, useParams } from '@tanstack/react-router';
import { type ReactNode, type RefObject, useRef, useState } from 'react';
import { LedgerService } from '../gen/plumbline/v1/ledger_pb';
import { type Record, Visibility } from '../gen/plumbline/v1/record_pb';
import { Drawn, useRetire } from '../form/Retire';
import { useKeys } from '../keys/useKeys';
import { turnTo } from '../parts/turn';
import { count, plainName } from '../parts/words';
import { useListState } from '../prospects/listState';
import { sentence } from '../transport';
import { Evaluations } from './Evaluations';
import { textIn } from './fields';
import { Forms } from './Forms';
import { History } from './History';
import { Looks } from './Looks';
import { Measurements } from './Measurements';
import { useOpen } from './open';
import './prospect.css';
import { RecordFields } from './RecordFields';
import { kinds as remarkKinds, Remarks } from './Remarks';
import { Retired } from './Retired';
import { type Addition, useAdding } from './useAdding';

/** Everything that is known of one prospect. */
export function Prospect() {
  const { id } = useParams({ from: '/prospects/$id' });
  const { order, setCurrent } = useListState();
  const [history, setHistory] = useState(false);
  const historyHeading = useRef<HTMLHeadingElement>(null);
  const navigate = useNavigate();
  const answer = useQuery(LedgerService.method.get, { record: id });
  const record = answer.data?.record;
  const related = answer.data?.related ?? [];
  const adding = useAdding(related);
  const retire = useRetire();

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
    ...adding.keys,
    ...(record && { retire: () => retire(record, answer.data?.asOf) }),
  });

  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  if (!record) return <main className="text-page" aria-busy="true" />;
  const summary: JsonObject = answer.data?.summary ?? {};
  return (
    <Drawn value={answer.data?.asOf ?? ''}>
      <main className="prospect">
        <Title record={record} summary={summary} />
        <Part title="Record">
          <RecordFields key={record.id} record={record} />
        </Part>
        <Part title="Measurements">
          <Measurements related={related} summary={summary} />
          <Below acts={adding.measurement} kinds={['measurement']} prospect={record} related={related} />
        </Part>
        <Part title="Looks">
          <Looks prospect={record} related={related} />
          <Below acts={adding.looks} kinds={['look']} prospect={record} related={related} />
        </Part>
        <Part title="Evaluations">
          <Evaluations related={related} />
          <Below acts={adding.evaluations} kinds={['evaluation', 'claim']} prospect={record} related={related} />
        </Part>
        <Part title="Remarks">
          <Remarks related={related} />
          <Below acts={adding.remarks} kinds={remarkKinds.filter((kind) => kind !== 'claim')} prospect={record} related={related} />
        </Part>
        <Part title="History" heading={historyHeading}>
          <button type="button" aria-expanded={history} onClick={() => setHistory(!history)}>
            {history ? 'Hide' : 'Show'} every entry on his record <kbd>h</kbd>
          </button>
          {history && <History record={id} onDrawn={() => turnTo(historyHeading.current)} />}
        </Part>
        <Part title="Retired">
          <Retired prospect={record} />
        </Part>
      </main>
    </Drawn>
  );
}

/** What can be added to a part, and the form for it while it is open. */
function Below({ acts, ...forms }: { acts: readonly Addition[]; kinds: readonly string[]; prospect: Record; related: readonly Record[] }) {
  const [open] = useOpen();
  const changed = forms.related.find((one) => one.id === open.change);
  const isOpen = forms.kinds.includes(changed?.kind ?? open.add ?? '');
  if (isOpen) return <Forms {...forms} />;
  return (
    <p className="part-acts">
      {acts.map((act) => (
        <button key={act.text} type="button" onClick={act.run}>
          {act.text} <kbd>{act.keys}</kbd>
        </button>
      ))}
    </p>
  );
}

interface PartProps {
  title: string;
  /** Takes the focus when the part is opened from elsewhere on the page. */
  heading?: RefObject<HTMLHeadingElement | null>;
  children: ReactNode;
}

function Part({ title, heading, children }: PartProps) {
  return (
    <section className="part">
      <h2 ref={heading} tabIndex={heading && -1}>
        {title}
      </h2>
      <div>{children}</div>
    </section>
  );
}

function Title({ record, summary }: { record: Record; summary: JsonObject }) {
  const retire = useRetire();
  const disputed = record.fields.filter((field) => field.conflict).length;
  const isDisputed = record.visibility === Visibility.DISPUTED;
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
        {record.visibility === Visibility.HIDDEN && (
          <p className="notice">
            He was retired: lists leave him out.{' '}
            <button type="button" onClick={() => retire(record)}>
              Keep him <kbd>x</kbd>
            </button>
          </p>
        )}
        {(disputed > 0 || isDisputed) && (
          <p>
            <Link to="/conflicts" search={{ record: record.id }} className="differs">
              ≠ to settle: {[disputed > 0 && count(disputed, 'field'), isDisputed && 'whether he is retired'].filter(Boolean).join(', ')}
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
