import type { ReactNode } from 'react';
import { Origin } from '../value/ValueView';
import type { Choice } from './choices';

interface Props {
  choice: Choice;
  number: number;
  disabled?: boolean;
  onChoose: (number: number) => void;
  /** The text as it is shown; as it is if left out. */
  children?: ReactNode;
}

/** A value that can be kept, with its number and everyone who wrote it. It keeps its size when its writers are gone. */
export function ChoiceButton({ choice, number, disabled = false, onChoose, children }: Props) {
  const isOver = isReplaced(choice);
  return (
    <li>
      <button type="button" className="choice" disabled={disabled || isOver} onClick={() => onChoose(number)}>
        <kbd>{number}</kbd>
        <span className="choice-text">{children ?? choice.text}</span>
        <Origins choice={choice} />
      </button>
    </li>
  );
}

const isReplaced = ({ writers }: Choice) => writers.length === 0;

/** Everyone who wrote a value. */
export function Origins({ choice }: { choice: Choice }) {
  return (
    <span className="choice-origins">
      {isReplaced(choice) && <span className="just">replaced meanwhile</span>}
      {choice.writers.map((writer) => (
        <Origin key={writer.id} writers={[writer]} exact />
      ))}
    </span>
  );
}
