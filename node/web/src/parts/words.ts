/** "1 look", "3 looks". */
export function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`;
}

/** A name of the schema as people read it: won_share, grades.hand_use. */
export function plainName(name: string): string {
  return name.replace(/^[a-z]+\./, '').replaceAll('_', ' ');
}

/** A kind of record, several of them: looks, people. */
export function plural(kind: string): string {
  return kind === 'person' ? 'people' : `${plainName(kind)}s`;
}
