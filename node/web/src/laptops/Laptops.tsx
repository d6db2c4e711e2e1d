import { useQuery } from '@connectrpc/connect-query';
import { NodeService, type PeerStatus } from '../gen/plumbline/v1/node_pb';
import { count } from '../parts/words';
import { sentence } from '../transport';
import './laptops.css';

/** The staff's laptops: who is in reach, and what is still to come either way. */
export function Laptops() {
  const answer = useQuery(NodeService.method.status);
  if (answer.error) {
    return (
      <main className="text-page">
        <p className="notice">{sentence(answer.error)}</p>
      </main>
    );
  }
  const status = answer.data;
  if (!status) return <main className="text-page" aria-busy="true" />;
  return (
    <main className="text-page laptops">
      <h1>Laptops</h1>
      <p>
        This is {status.deviceName}, of {status.personName || 'nobody yet'}. It holds {count(status.entries, 'entry', 'entries')} and
        judges rights as of {count(status.controls, 'control entry', 'control entries')}.
      </p>
      {status.trouble && <p className="notice">{status.trouble}</p>}
      {status.forked.length > 0 && <p className="notice">A laptop’s disk was cloned: both go on writing under one name.</p>}
      {status.setAside > 0 && (
        <p className="notice">
          {count(status.setAside, 'entry', 'entries')} kept that don’t count: <code>plumbline aside</code> says why.
        </p>
      )}
      {status.peers.length === 0 ? (
        <p className="soft">No other laptop belongs to the staff yet.</p>
      ) : (
        <table className="book">
          <thead>
            <tr>
              <th>Laptop</th>
              <th>Person</th>
              <th>Reach</th>
              <th className="number">To come from it</th>
              <th className="number">To go to it</th>
              <th>Address</th>
            </tr>
          </thead>
          <tbody>
            {status.peers.map((peer) => (
              <Line key={peer.device} peer={peer} />
            ))}
          </tbody>
        </table>
      )}
    </main>
  );
}

function Line({ peer }: { peer: PeerStatus }) {
  return (
    <tr>
      <th scope="row">{peer.deviceName || 'unnamed'}</th>
      <td>{peer.personName}</td>
      <td>{reach(peer)}</td>
      <td className="number">{peer.behind}</td>
      <td className="number">{peer.ahead}</td>
      <td className="soft">{peer.address}</td>
    </tr>
  );
}

function reach(peer: PeerStatus) {
  if (peer.revoked) return <span className="differs">✕ revoked</span>;
  return peer.linked ? <span>● in reach</span> : <span className="soft">○ away</span>;
}
