import { type JsonValue, toJson } from '@bufbuild/protobuf';
import { ValueSchema } from '@bufbuild/protobuf/wkt';
import type { Field, Record } from '../gen/plumbline/v1/record_pb';

export function fieldOf(record: Record, name: string): Field | undefined {
  return record.fields.find((field) => field.name === name);
}

/** The shown value of a field as text; empty without one. */
export function textIn(record: Record, name: string): string {
  return fieldOf(record, name)?.values[0]?.text ?? '';
}

/** The shown value of a field in JSON. */
export function jsonIn(record: Record, name: string): JsonValue | undefined {
  const value = fieldOf(record, name)?.values[0]?.json;
  return value && toJson(ValueSchema, value);
}

export function referenceIn(record: Record, name: string): string {
  return fieldOf(record, name)?.values[0]?.refersTo ?? '';
}

export const ofKind = (records: readonly Record[], kind: string) => records.filter((one) => one.kind === kind);
