import { useMutation } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { type FormEvent, type RefObject, useId, useState } from 'react';
import { NodeService } from '../gen/plumbline/v1/node_pb';
import { sentence } from '../transport';

/** Turns to a laptop of the staff that the network doesn't show by itself. */
export function Turn({ field }: { field: RefObject<HTMLInputElement | null> }) {
  const [address, setAddress] = useState('');
  const call = useMutation(NodeService.method.connect);
  const queries = useQueryClient();
  const id = useId();
  const turn = (event: FormEvent) => {
    event.preventDefault();
    if (address.trim() === '') return;
    call.mutate({ address: address.trim() }, { onSuccess: () => void queries.invalidateQueries() });
  };
  return (
    <form onSubmit={turn} className="turn">
      <label htmlFor={id}>Connect to an address</label>
      <div className="line">
        <input
          id={id}
          ref={field}
          autoComplete="off"
          spellCheck={false}
          placeholder="host:port, as another laptop’s page shows it"
          value={address}
          onChange={(event) => setAddress(event.target.value)}
          onKeyDown={(event) => event.key === 'Escape' && event.currentTarget.blur()}
        />
        <button type="submit" disabled={address.trim() === '' || call.isPending}>
          Connect
        </button>
      </div>
      <p role="status">
        {call.isPending && 'Turning to it.'}
        {call.isSuccess && '✓ linked; the address is remembered.'}
      </p>
      {call.error && (
        <p className="notice" role="alert">
          Not linked: {sentence(call.error)}
        </p>
      )}
    </form>
  );
}
