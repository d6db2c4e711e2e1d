// Invented records, as the node sends them.
import { create } from '@bufbuild/protobuf';
import { timestampFromDate, ValueSchema } from '@bufbuild/protobuf/wkt';
import { type Field, FieldSchema, type Value, ValueSchema as LiveValueSchema } from '../gen/plumbline/v1/record_pb';

interface Wrote {
  text: string;
  by: string;
  on?: string;
  source?: string;
}

export function value({ text, by, on = '2026-10-15T12:00', source = '' }: Wrote): Value {
  return create(LiveValueSchema, {
    id: `${by.toLowerCase().replaceAll(' ', '')}.1.${text}`,
    text,
    json: create(ValueSchema, { kind: { case: 'stringValue', value: text } }),
    personName: by,
    written: timestampFromDate(new Date(on)),
    source,
  });
}

export function field(name: string, values: readonly Wrote[]): Field {
  const texts = new Set(values.map((one) => one.text));
  return create(FieldSchema, {
    name,
    label: name.charAt(0).toUpperCase() + name.slice(1),
    values: values.map(value),
    conflict: texts.size > 1,
  });
}
