import { crc32, deflateRawSync } from 'node:zlib';

/** A sheet's rows; texts stand in the cells themselves. */
export type Sheets = { readonly [name: string]: readonly (readonly (string | number)[])[] };

const letters = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ';

/** A workbook by hand, as ECMA-376 has it: what a page is given, no library of ours has made. */
export function workbook(sheets: Sheets): Buffer {
  const names = Object.keys(sheets);
  const parts: [string, string][] = [
    ['_rels/.rels', `<Relationships><Relationship Id="r" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`],
    ['xl/workbook.xml', `<workbook xmlns:r="r"><sheets>${names.map((name, i) => `<sheet name="${name}" r:id="s${i}"/>`).join('')}</sheets></workbook>`],
    [
      'xl/_rels/workbook.xml.rels',
      `<Relationships>${names.map((_, i) => `<Relationship Id="s${i}" Type="x/worksheet" Target="worksheets/s${i}.xml"/>`).join('')}</Relationships>`,
    ],
    ...Object.values(sheets).map((rows, i): [string, string] => [`xl/worksheets/s${i}.xml`, sheet(rows)]),
  ];
  return zip(parts.map(([name, text]) => [name, Buffer.from(text)]));
}

function sheet(rows: Sheets[string]): string {
  const cell = (value: string | number, column: number, row: number) => {
    const at = `${letters[column]}${row + 1}`;
    return typeof value === 'number' ? `<c r="${at}"><v>${value}</v></c>` : `<c r="${at}" t="inlineStr"><is><t>${value}</t></is></c>`;
  };
  const lines = rows.map((cells, row) => `<row r="${row + 1}">${cells.map((value, column) => cell(value, column, row)).join('')}</row>`);
  return `<worksheet><sheetData>${lines.join('')}</sheetData></worksheet>`;
}

/** Parts under names, deflated: the archive of APPNOTE.TXT, sections 4.3.7, 4.3.12 and 4.3.16. */
export function zip(parts: readonly (readonly [string, Buffer])[]): Buffer {
  const bodies: Buffer[] = [];
  const entries: Buffer[] = [];
  let at = 0;
  for (const [name, data] of parts) {
    const packed = deflateRawSync(data);
    const about = Buffer.alloc(26);
    about.writeUInt16LE(20, 0); // needs version 2.0
    about.writeUInt16LE(8, 4); // deflated
    about.writeUInt32LE(crc32(data), 10);
    about.writeUInt32LE(packed.length, 14);
    about.writeUInt32LE(data.length, 18);
    about.writeUInt16LE(Buffer.byteLength(name), 22);
    const rest = Buffer.alloc(14);
    rest.writeUInt32LE(at, 10);
    const local = Buffer.concat([Buffer.from('PK\x03\x04'), about, Buffer.from(name), packed]);
    entries.push(Buffer.concat([Buffer.from('PK\x01\x02\x14\x00'), about, rest, Buffer.from(name)]));
    bodies.push(local);
    at += local.length;
  }
  const directory = Buffer.concat(entries);
  const end = Buffer.alloc(18);
  end.writeUInt16LE(parts.length, 4);
  end.writeUInt16LE(parts.length, 6);
  end.writeUInt32LE(directory.length, 8);
  end.writeUInt32LE(at, 12);
  return Buffer.concat([...bodies, directory, Buffer.from('PK\x05\x06'), end]);
}
