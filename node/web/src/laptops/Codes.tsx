import { type FormEvent, useId, useState } from 'react';

interface Props {
  code: string;
  isAnswered: boolean;
  isWrong: boolean;
  onAnswer: (typed: string) => void;
  onEnd: () => void;
}

/** Each screen shows a code, which is typed on the other one. Nobody in the middle has both. */
export function Codes({ code, isAnswered, isWrong, onAnswer, onEnd }: Props) {
  const [typed, setTyped] = useState('');
  const id = useId();
  const give = (event: FormEvent) => {
    event.preventDefault();
    if (typed.trim() === '') return;
    onAnswer(typed);
    setTyped('');
  };
  return (
    <form onSubmit={give}>
      <dl className="shown">
        <div>
          <dt>Type this code on the other laptop</dt>
          <dd data-part="code">{code.replace(/^(\d{3})(\d{3})$/, '$1 $2')}</dd>
        </div>
      </dl>
      <label htmlFor={id}>The code that the other laptop shows</label>
      <div className="line">
        <input
          id={id}
          className="code"
          inputMode="numeric"
          autoComplete="off"
          autoFocus
          aria-describedby={`${id}said`}
          value={typed}
          onChange={(event) => setTyped(event.target.value)}
        />
        <button type="submit" className="main" disabled={typed.trim() === ''}>
          Give the code
        </button>
        <button type="button" onClick={onEnd}>
          Stop
        </button>
      </div>
      <p id={`${id}said`} role="status" className={isWrong ? 'differs' : 'soft'}>
        {isWrong && '✕ That isn’t the code on the other screen. Look once more.'}
        {isAnswered && 'Given. It goes on when both codes are right.'}
      </p>
    </form>
  );
}
