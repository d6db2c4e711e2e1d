import { useEffect, useRef } from 'react';
import { bind, type Handlers } from './bound';

/** Binds keys to what a component does, while it is shown. */
export function useKeys(handlers: Handlers): void {
  const current = useRef(handlers);
  useEffect(() => {
    current.current = handlers;
  });
  useEffect(() => bind(current), []);
}
