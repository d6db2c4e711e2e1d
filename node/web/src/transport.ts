import { Code, ConnectError, type Interceptor, type Transport } from '@connectrpc/connect';
import { createConnectTransport } from '@connectrpc/connect-web';

/** The way to the node: always by POST, with the token, in binary. */
export function nodeTransport(token: () => string, refused: () => void): Transport {
  const carryToken: Interceptor = (next) => async (request) => {
    request.header.set('Authorization', `Bearer ${token()}`);
    try {
      return await next(request);
    } catch (error) {
      if (ConnectError.from(error).code === Code.Unauthenticated) refused();
      throw error;
    }
  };
  return createConnectTransport({ baseUrl: location.origin, useBinaryFormat: true, interceptors: [carryToken] });
}

/** The node's own sentence, without the code that the library puts before it. */
export function sentence(error: unknown): string {
  const wire = ConnectError.from(error);
  if (wire.code === Code.Unknown || wire.code === Code.Unavailable) {
    return 'The node doesn’t answer. Nothing was lost; it goes on when the node runs again.';
  }
  return wire.rawMessage;
}
