/** Where a record is shown: prospects have pages of their own, all others one like the next. */
export function placeOf(kind: string, id: string) {
  const params = { id };
  return kind === 'prospect' ? ({ to: '/prospects/$id', params } as const) : ({ to: '/records/$id', params } as const);
}
