import { useMutation, useQuery } from '@connectrpc/connect-query';
import { useQueryClient } from '@tanstack/react-query';
import { useState } from 'react';
import type { PeerStatus, StatusResponse } from '../gen/plumbline/v1/node_pb';
import { type Member, StaffService } from '../gen/plumbline/v1/staff_pb';
import { Wide } from '../parts/Wide';
import { laptopOf } from '../parts/words';
import { sentence } from '../transport';
import { type Question, Sure } from '../parts/Sure';

type Act = 'promote' | 'demote' | 'revoke';

/** Who belongs to the staff, with which rights, who is in reach, and what is still to come either way. */
export function Roster({ status }: { status: StatusResponse }) {
  const members = useQuery(StaffService.method.roster).data?.members ?? [];
  const [asked, setAsked] = useState<{ act: Act; member: Member }>();
  const mayAct = status.role === 'director';
  const peers = new Map(status.peers.map((peer) => [peer.device, peer]));
  return (
    <>
      <Wide of="Laptops of the staff">
        <table className="book roster">
          <thead>
            <tr>
              <th>Person</th>
              <th>Laptop</th>
              <th>Rights</th>
              <th>Reach</th>
              <th className="number">To come from it</th>
              <th className="number">To go to it</th>
              {mayAct && <th>Change</th>}
            </tr>
          </thead>
          <tbody>
            {members.map((member) => (
              <tr key={member.device} className={member.revoked ? 'soft' : ''}>
                <th scope="row">{member.personName || 'unnamed'}</th>
                <td>{member.deviceName || 'unnamed'}</td>
                <td>{member.revoked ? <span className="differs">✕ revoked</span> : member.role}</td>
                <Reach peer={peers.get(member.device)} isOwn={member.device === status.device} isRevoked={member.revoked} />
                {mayAct && (
                  <td>
                    {!member.revoked && member.device !== status.device && (
                      <Acts member={member} onAct={(act) => setAsked({ act, member })} />
                    )}
                  </td>
                )}
              </tr>
            ))}
          </tbody>
        </table>
      </Wide>
      {asked && <Asked {...asked} onClose={() => setAsked(undefined)} />}
    </>
  );
}

function Reach({ peer, isOwn, isRevoked }: { peer: PeerStatus | undefined; isOwn: boolean; isRevoked: boolean }) {
  if (isOwn || !peer) return <td colSpan={3}>{isOwn ? 'this laptop' : ''}</td>;
  if (!peer.linked) {
    return (
      <>
        <td className="soft">{isRevoked ? '' : '○ away'}</td>
        <td className="number soft">{isRevoked ? '' : '—'}</td>
        <td className="number soft">{isRevoked ? '' : '—'}</td>
      </>
    );
  }
  return (
    <>
      <td>
        ● in reach <span className="soft fine">{peer.address}</span>
      </td>
      <td className="number">{peer.behind}</td>
      <td className="number">{peer.ahead}</td>
    </>
  );
}

function Acts({ member, onAct }: { member: Member; onAct: (act: Act) => void }) {
  const name = laptopOf(member);
  return (
    <span className="acts">
      {member.role === 'director' ? (
        <button type="button" aria-label={`Demote ${name}`} onClick={() => onAct('demote')}>
          Demote
        </button>
      ) : (
        <button type="button" aria-label={`Promote ${name}`} onClick={() => onAct('promote')}>
          Promote
        </button>
      )}
      <button type="button" aria-label={`Revoke ${name}`} onClick={() => onAct('revoke')}>
        Revoke
      </button>
    </span>
  );
}

function Asked({ act, member, onClose }: { act: Act; member: Member; onClose: () => void }) {
  const promote = useMutation(StaffService.method.promote);
  const revoke = useMutation(StaffService.method.revoke);
  const queries = useQueryClient();
  const done = () => {
    void queries.invalidateQueries();
    onClose();
  };
  const error = promote.error ?? revoke.error;
  return (
    <Sure
      question={question(act, laptopOf(member))}
      trouble={error ? sentence(error) : ''}
      isBusy={promote.isPending || revoke.isPending}
      onNo={onClose}
      onYes={() => {
        if (act === 'promote') promote.mutate({ who: member.device }, { onSuccess: done });
        else revoke.mutate({ who: member.device, demote: act === 'demote' }, { onSuccess: done });
      }}
    />
  );
}

function question(act: Act, whose: string): Question {
  switch (act) {
    case 'promote':
      return {
        title: `Make ${whose} a director’s?`,
        text: 'It may then invite and revoke laptops, and write the board, the rubric and the assignments. Only a laptop of higher rank can take that back.',
        yes: 'Give a director’s rights',
      };
    case 'demote':
      return {
        title: `Leave ${whose} a scout’s rights only?`,
        text: 'What a director alone may write counts nowhere from now on when it comes from this laptop. What it wrote until now stays.',
        yes: 'Leave a scout’s rights',
      };
    case 'revoke':
      return {
        title: `Revoke ${whose}?`,
        text: 'What it wrote until now stays; what it writes later counts nowhere. That can’t be taken back: only a new invitation lets it in again. Laptops that haven’t heard of it go on linking with it until they do, and it keeps what it holds.',
        yes: 'Revoke it',
      };
  }
}
