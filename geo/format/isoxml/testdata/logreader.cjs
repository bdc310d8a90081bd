// Reads the logs of task data with the open reader isoxml (npm, Apache-2.0) and
// prints what it makes of them: node logreader.cjs FILE.zip… > log-reader.json, with
// isoxml 1.11.2 installed beside it or in NODE_PATH.
const fs = require('fs')
const path = require('path')
const { ISOXMLManager } = require('isoxml')

async function one(file) {
  const m = new ISOXMLManager()
  await m.parseISOXMLFile(new Uint8Array(fs.readFileSync(file)), 'application/zip')
  const logs = [].concat(...(m.rootElement.attributes.Task || []).map(t => t.attributes.TimeLog || []))
  return {
    reader: 'isoxml ' + require('isoxml/package.json').version,
    warnings: m.getWarnings().map(w => w.message || String(w)),
    logs: logs.map(l => {
      const info = l.parseBinaryFile()
      return {
        columns: info.valuesInfo.map(v => [v.DDINumber, v.deviceElementDesignator || v.deviceElementId, v.valueKey, v.scale, v.unit]),
        records: l.getFilledTimeLogs().map(r => [r.time.toISOString(), r.isValidPosition, r.position.PositionEast, r.position.PositionNorth, r.values]),
      }
    }),
  }
}

async function main() {
  const out = {}
  for (const f of process.argv.slice(2)) out[path.basename(f)] = await one(f)
  console.log(JSON.stringify(out, null, 1))
}
main().catch(e => { console.error(e); process.exit(1) })
