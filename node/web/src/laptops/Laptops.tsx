import { useQuery } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { useRef, useState } from 'react';
import type { WrittenAlone } from '../gen/plumbline/v1/alone_pb';
import { NodeService, type StatusResponse } from '../gen/plumbline/v1/node_pb';
import { StaffService } from '../gen/plumbline/v1/staff_pb';
import { useKeys } from '../keys/useKeys';
import { count } from '../parts/words';
import { sentence } from '../transport';
import { CameAlong } from './Along';
import { Aside } from './Aside';
import { Found } from './Found';
import { Invite } from './Invite';
import { Join } from './Join';
import './laptops.css';
import { Root } from './Root';
import { Roster } from './Roster';
import { Told } from './Told';
import { Turn } from './Turn';

/** How far the others are changes with each range that goes over a link, which is no change of any record. */
const often = 2000;

/** The staff's laptops, and how one joins or leaves. */
export function Laptops() {
  const answer = useQuery(NodeService.method.status, {}, {
    refetchInterval: ({ state }) => (state.data?.peers.some((peer) => peer.linked) ? often : false),
  });
  const [root, setRoot] = useState('');
  const queries = useQueryClient();
  const status = answer.data;
  if (root !== '') {
    return (
      <Root
        root={root}
        onDone={() => {
          setRoot('');
          void queries.invalidateQueries();
        }}
      />
    );
  }
  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  if (!status) return <main className="text-page" aria-busy="true" />;
  return (
    <main className="text-page laptops">
      <h1>Laptops</h1>
      {status.staff === '' ? (
        <>
          <p>This laptop belongs to no staff yet. It joins one, or founds one.</p>
          <div className="either">
            <Join title="Join a staff" />
            <Found onRoot={setRoot} />
          </div>
        </>
      ) : (
        <OfStaff status={status} />
      )}
    </main>
  );
}

function OfStaff({ status }: { status: StatusResponse }) {
  const [isInviting, setInviting] = useState(false);
  const [joining, setJoining] = useState<WrittenAlone>();
  const address = useRef<HTMLInputElement>(null);
  const isDirector = status.role === 'director';
  const members = useQuery(StaffService.method.roster).data?.members;
  // Only with no other laptop on the roster is there something to take along into another staff.
  const alone = useQuery(StaffService.method.alone, {}, { enabled: members !== undefined && members.length < 2 && !status.alone }).data?.alone;
  // Who was revoked is on the roster still; a copy's new key never was.
  const isCopy = status.role === '' && members?.some((member) => member.device === status.device) === false;
  useKeys({ invite: () => isDirector && setInviting(true), connect: () => address.current?.focus() });
  return (
    <>
      <p>
        This is {status.deviceName ? `${status.deviceName}, of ${status.personName}` : isCopy ? 'a restored copy' : 'a laptop without standing'}. It
        holds{' '}
        {count(status.entries, 'entry', 'entries')} and judges rights as of {count(status.controls, 'control entry', 'control entries')}.
        {status.addresses.length > 0 && ` Other laptops reach it at ${status.addresses.join(', ')}.`}
      </p>
      {isCopy ? <Copy /> : status.trouble && <p className="notice">{status.trouble}</p>}
      <Told status={status} />
      {status.alone && <CameAlong alone={status.alone} />}
      {status.role === '' && <Join title="Join again" alone={alone} />}
      <Roster status={status} />
      {isInviting ? (
        <Invite onClose={() => setInviting(false)} />
      ) : (
        isDirector && (
          <p className="answers">
            <button type="button" className="main" onClick={() => setInviting(true)}>
              Invite a laptop
            </button>
            {alone && !joining && (
              <button type="button" onClick={() => setJoining(alone)}>
                Join another staff with these records
              </button>
            )}
          </p>
        )
      )}
      {joining && !status.alone && <Join title="Join another staff" alone={joining} onClose={() => setJoining(undefined)} />}
      {status.role !== '' && <Turn field={address} />}
      <Aside total={status.setAside} isDirector={isDirector} />
    </>
  );
}

/** What a backup is that was opened elsewhere, and how one writes on. */
function Copy() {
  return (
    <p className="notice">
      A backup holds all records and no keys: everything can be read here, nothing can be written, and no other laptop links with it. To write, let it
      join again, as a new laptop of its person’s: a director invites it by that person’s name.
    </p>
  );
}
