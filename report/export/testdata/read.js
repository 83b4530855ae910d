// Reads a folder of tables by its csv-metadata.json with rdf-parser-csvw, and says of each
// table how many rows it found, and how many cells of which type in each column. The
// terms of the vocabulary are given here, from memory, for there is no network to ask.
const { default: Parser } = require('rdf-parser-csvw')
const jsonld = require('jsonld')
const { Store } = require('n3')
const fs = require('fs')
const ns = 'http://www.w3.org/ns/csvw#', xsd = 'http://www.w3.org/2001/XMLSchema#'
const types = { string: xsd + 'string', integer: xsd + 'integer', double: xsd + 'double', boolean: xsd + 'boolean', dateTimeStamp: xsd + 'dateTimeStamp', json: ns + 'JSON' }
const terms = { ...types, tableSchema: { '@id': ns + 'tableSchema', '@type': '@id' }, columns: { '@id': ns + 'column', '@container': '@list' }, name: ns + 'name', titles: ns + 'title',
  datatype: { '@id': ns + 'datatype', '@type': '@vocab' }, dialect: ns + 'dialect', lineTerminators: ns + 'lineTerminators', url: { '@id': ns + 'url', '@type': '@id' } }
async function read (dir) {
  const meta = JSON.parse(fs.readFileSync(dir + '/csv-metadata.json'))
  for (const table of meta.tables) {
    const quads = await jsonld.toRDF({ '@context': terms, dialect: meta.dialect, url: table.url, tableSchema: table.tableSchema }, { base: 'http://example.org/' })
    const parser = new Parser({ metadata: new Store(quads), baseIRI: 'http://example.org/' + table.url })
    let rows = 0
    const columns = {}
    for await (const q of parser.import(fs.createReadStream(dir + '/' + table.url))) {
      if (q.predicate.value === ns + 'rownum') rows++
      else if (q.object.termType === 'Literal' && q.predicate.value.startsWith('http://example.org/')) {
        const name = decodeURIComponent(q.predicate.value.split('#')[1])
        const c = columns[name] ||= { cells: 0, type: q.object.datatype.value.split('#')[1] }
        c.cells++
      }
    }
    console.log(JSON.stringify({ table: table.url, rows, columns }))
  }
}
read(process.argv[1])
