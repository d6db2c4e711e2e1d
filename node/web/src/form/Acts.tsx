import { Visibility, type Record } from '../gen/plumbline/v1/record_pb';
import { useSay } from '../parts/Said';
import { plainName } from '../parts/words';
import { useRetire } from './Retire';
import { useRights } from './rights';

interface Props {
  record: Record;
  /** What is done besides, before the usual. */
  children?: React.ReactNode;
  onChange?: () => void;
  /** How the record is called in the names of the buttons. */
  name?: string;
}

/** What can be done with a record. Who may not change it is told why, when they try. */
export function Acts({ record, children, onChange, name = plainName(record.kind) }: Props) {
  const rights = useRights();
  const say = useSay();
  const retire = useRetire();
  const why = rights.whyNot(record.kind, record);
  const isHidden = record.visibility === Visibility.HIDDEN;
  return (
    <span className="acts-line">
      {children}
      {onChange && (
        <button type="button" className="act" aria-disabled={why !== ''} aria-label={`Change ${name}`} onClick={() => (why ? say(why, 'refused') : onChange())}>
          {why ? '⊘ change' : 'change'}
        </button>
      )}
      {why === '' && (
        <button type="button" className="act" aria-label={`${isHidden ? 'Keep' : 'Retire'} ${name}`} onClick={() => retire(record)}>
          {isHidden ? 'keep' : 'retire'}
        </button>
      )}
    </span>
  );
}
