import { Code, ConnectError, type Interceptor, type Transport } from '@connectrpc/connect';
import { createConnectTransport } from '@connectrpc/connect-web';

/** The way to the node: always by POST, with the token, in binary. */
export function nodeTransport(token: () => string, refused: () => void): Transport {
  const look = (error: unknown): never => {
    if (ConnectError.from(error).code === Code.Unauthenticated) refused();
    throw error;
  };
  const carryToken: Interceptor = (next) => async (request) => {
    request.header.set('Authorization', `Bearer ${token()}`);
    const answer = await next(request).catch(look);
    return answer.stream ? { ...answer, message: looking(answer.message, look) } : answer;
  };
  return createConnectTransport({ baseUrl: location.origin, useBinaryFormat: true, interceptors: [carryToken] });
}

/** A stream is refused only when it is read. */
async function* looking<T>(messages: AsyncIterable<T>, look: (error: unknown) => never): AsyncGenerator<T> {
  try {
    yield* messages;
  } catch (error) {
    look(error);
  }
}

/** What the node says to everybody, as the page says it: with its own way in the place of a command's, and set as its texts are. */
export const onPage = (said: string) =>
  said
    .replace(/all of them: plumbline fields \w+/, '↓ in the empty field lists them all')
    .replace(/read (?:\w+ )*again, and pass the as_of of that answer(?: if it is to stay)?/, 'look at it as it is now, and answer once more')
    .replace(/(?<=\w)'(?=\w)/g, '’');

/** The node's own sentence, without the code that the library puts before it. */
export function sentence(error: unknown): string {
  const wire = ConnectError.from(error);
  if (wire.code === Code.Unknown || wire.code === Code.Unavailable) {
    return 'The node doesn’t answer. Nothing was lost; it goes on when the node runs again.';
  }
  return onPage(wire.rawMessage);
}
