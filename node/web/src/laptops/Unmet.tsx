import { useQuery } from '@connectrpc/connect-query';
import { Link, useLocation } from '@tanstack/react-router';
import { useState } from 'react';
import { NodeService } from '../gen/plumbline/v1/node_pb';

/**
 * Why this laptop may hold less than the others, and what to do. Once one is met it says that in the same room, until
 * another page is turned to: nothing moves below it while rows come over.
 */
export function Unmet() {
  const unmet = useQuery(NodeService.method.status).data?.unmet ?? '';
  const { pathname } = useLocation();
  const [said, setSaid] = useState({ unmet: '', pathname: '' });
  if (unmet !== '' && (said.unmet !== unmet || said.pathname !== pathname)) setSaid({ unmet, pathname });
  if (unmet === '' && said.pathname !== pathname) return null;
  const isMet = unmet === '';
  const isRestored = (unmet || said.unmet) === 'restored';
  return (
    <p className="notice unmet" role="status">
      <span hidden={isMet}>
        This laptop has met no other one since {isRestored ? 'the backup was restored' : 'it joined'}, so it may lack{' '}
        {isRestored ? 'what is newer than that' : 'much of what the staff holds'}: let plumbline run here and on another laptop of the staff in one network,
        or connect to an address under <Link to="/laptops">Laptops</Link>.
      </span>
      {isMet && <span>Another laptop of the staff is met: what this one lacked comes over by itself.</span>}
    </p>
  );
}
