// Reads task data with the open reader isoxml (npm, Apache-2.0) and prints what
// it makes of them: node reader.cjs FILE.zip… > reader-of-ours.json, with
// isoxml 1.11.2 installed beside it or in NODE_PATH.
const fs = require('fs')
const path = require('path')
const crypto = require('crypto')
const { ISOXMLManager } = require('isoxml')

async function one(file) {
  const m = new ISOXMLManager()
  await m.parseISOXMLFile(new Uint8Array(fs.readFileSync(file)), 'application/zip')
  const task = m.rootElement.attributes.Task[0]
  const xml = require('isoxml/package.json').version
  const out = { reader: 'isoxml ' + xml, warnings: m.getWarnings ? m.getWarnings().map(w => w.message || String(w)) : [], version: m.rootElement.attributes.VersionMajor, task: task.attributes.TaskDesignator, zones: [] }
  for (const z of task.attributes.TreatmentZone || []) {
    out.zones.push({
      code: z.attributes.TreatmentZoneCode, name: z.attributes.TreatmentZoneDesignator,
      values: (z.attributes.ProcessDataVariable || []).map(v => [v.attributes.ProcessDataDDI, v.attributes.ProcessDataValue]),
      rings: [].concat(...[].concat(z.attributes.PolygonTreatmentZoneonly || []).map(p => p.attributes.LineString.map(l => l.attributes.Point.map(q => [q.attributes.PointEast, q.attributes.PointNorth])))),
    })
  }
  const grid = (task.attributes.Grid || [])[0]
  if (grid) {
    const a = grid.attributes
    out.grid = { type: a.GridType, columns: a.GridMaximumColumn, rows: a.GridMaximumRow, south: a.GridMinimumNorthPosition, west: a.GridMinimumEastPosition }
    try { out.cells = grid.toGeoJSON(['a', 'b']).features.map(f => [f.geometry.coordinates[0][0], f.properties.a, f.properties.b]) } catch (e) { out.cells = String(e.message) }
  }
  return out
}

async function main() {
  const out = {}
  for (const f of process.argv.slice(2)) out[path.basename(f)] = await one(f)
  console.log(JSON.stringify(out))
}
main().catch(e => { console.error(e); process.exit(1) })
