/** "1 look", "3 looks". */
export function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`;
}

/** A person’s laptop in a sentence; many are called after their person already. */
export function laptopOf({ personName, deviceName, device = '' }: { personName: string; deviceName: string; device?: string }): string {
  if (deviceName === '') return personName === '' ? `laptop ${device}` : `${personName}’s laptop`;
  if (personName === '' || deviceName.toLowerCase().startsWith(personName.toLowerCase())) return deviceName;
  return `${personName}’s laptop ${deviceName}`;
}

/** A name of the schema as people read it: won_share, grades.hand_use. */
export function plainName(name: string): string {
  return name.replace(/^[a-z]+\./, '').replaceAll('_', ' ');
}

/** A field as people read it, with the key of a map: which grade, not only that it is one. */
export function labelOf({ name, label }: { name: string; label: string }): string {
  if (label === '') return plainName(name);
  return name.includes('.') ? `${label}: ${plainName(name)}` : label;
}

/** A kind of record, several of them: looks, people. */
export function plural(kind: string): string {
  return kind === 'person' ? 'people' : `${plainName(kind)}s`;
}
