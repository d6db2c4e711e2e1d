import { useBlocker } from '@tanstack/react-router';
import { type FormEvent, useId, useState } from 'react';
import { Dialog, Heading, Modal, ModalOverlay } from 'react-aria-components';

/**
 * The staff's root, for paper. It is held by this component alone and stored nowhere; one group is asked back, so that
 * nobody clicks it away unread, and until then the page isn't left.
 */
export function Root({ root, onDone }: { root: string; onDone: () => void }) {
  const groups = root.split(/[\s-]+/).filter((group) => group !== '');
  const [asked] = useState(() => Math.floor(Math.random() * groups.length));
  const [typed, setTyped] = useState('');
  const [isWrong, setWrong] = useState(false);
  const id = useId();
  useBlocker({ shouldBlockFn: () => true, enableBeforeUnload: true });
  const compare = (event: FormEvent) => {
    event.preventDefault();
    if (typed.trim().toLowerCase() === groups[asked]?.toLowerCase()) onDone();
    else setWrong(true);
  };
  return (
    <ModalOverlay className="veil" isOpen isKeyboardDismissDisabled>
      <Modal className="sheet">
        <Dialog>
          <Heading slot="title">The staff’s root</Heading>
          <p>
            Write it on paper now, and keep the paper away from this laptop. It is shown once and kept nowhere; a staff whose only
            director’s laptop is lost is recovered with it.
          </p>
          <ol className="root">
            {groups.map((group, i) => (
              <li key={`${i + 1}/${group}`}>
                <span className="soft fine">{i + 1}</span> {group}
              </li>
            ))}
          </ol>
          <form onSubmit={compare}>
            <label htmlFor={id}>Type group {asked + 1} from your paper</label>
            <div className="line">
              <input
                id={id}
                className="code"
                autoComplete="off"
                autoCapitalize="off"
                autoFocus
                spellCheck={false}
                aria-describedby={`${id}said`}
                value={typed}
                onChange={(event) => {
                  setTyped(event.target.value);
                  setWrong(false);
                }}
              />
              <button type="submit" className="main" disabled={typed.trim() === ''}>
                It is on paper
              </button>
            </div>
            <p id={`${id}said`} role="status" className="differs">
              {isWrong && '✕ That isn’t it: compare your paper with the screen.'}
            </p>
          </form>
        </Dialog>
      </Modal>
    </ModalOverlay>
  );
}
