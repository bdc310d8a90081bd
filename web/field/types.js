// The shapes of the phone page, for the type check only.

/**
 * @typedef {import("../lib/model.js").FieldEvent} FieldEvent
 * @typedef {[number: number, id: number, condition: number, text: number, progress: number, mark: number]} PlaceTuple text and mark are indexes, -1 for none
 *
 * @typedef {object} FieldRow
 * @property {number} row
 * @property {string} label
 * @property {number} block
 * @property {string} code
 * @property {string} variety
 * @property {number} from
 * @property {number} to
 * @property {"near" | "far"} start the end where the walk begins; near is where vine 1 stands
 * @property {string} [side]
 * @property {number} section vines between two posts, 0 unknown
 * @property {number} [vine_spacing_m] 0 unknown
 * @property {PlaceTuple[]} vines in order of number
 * @property {string[]} marks
 * @property {number[]} gaps
 * @property {[lon: number, lat: number]} center
 * @property {[w: number, s: number, e: number, n: number]} bounds
 *
 * @typedef {object} Order
 * @property {string} id
 * @property {number} season
 * @property {string} operation
 * @property {number} block
 * @property {string} code
 * @property {string} crew
 * @property {string} day "" for any day
 * @property {string} note
 * @property {boolean} [sick]
 * @property {FieldRow[]} rows
 * @property {string[]} [cautions] hazards of its operation; lists from before they were sent have none
 *
 * @typedef {object} WeighRow
 * @property {number} row
 * @property {string} label
 * @property {"near" | "far"} start the end where the walk enters
 * @property {number} last the highest number of the row
 * @property {number} section vines between two posts, 0 unknown
 * @property {[number: number, id: number, condition: number, grams: number, progress: number][]} vines in walking order; grams -1 for none
 *
 * @typedef {object} WeighList vines to weigh in one block
 * @property {string} id
 * @property {number} season
 * @property {number} block
 * @property {string} code
 * @property {string} crew "" for every crew
 * @property {string} unit in which weights are written
 * @property {number} vine_spacing_m 0 unknown
 * @property {WeighRow[]} rows in walking order
 *
 * @typedef {object} LookPlace a place to look at
 * @property {number} id
 * @property {number} number
 * @property {string} state what is taken to stand there
 * @property {string} look_again the day, of a doubtful one
 * @property {"open" | "later" | "settled"} how
 * @property {boolean} differ what is known contradicts itself
 * @property {{source: string, state: string, day: string}[]} said what each source said last
 *
 * @typedef {object} LookRow
 * @property {number} row
 * @property {string} label
 * @property {"near" | "far"} start the end where the walk enters
 * @property {number} last the highest number of the row
 * @property {number} section vines between two posts, 0 unknown
 * @property {LookPlace[]} places in walking order
 *
 * @typedef {object} LookList gaps of one block at which a person looks
 * @property {string} id
 * @property {number} season
 * @property {number} block
 * @property {string} code
 * @property {string} crew "" for every crew
 * @property {LookRow[]} rows in walking order
 *
 * @typedef {object} Bundle
 * @property {string} version
 * @property {{name: string, south: boolean, zone: string, us_units: boolean, season: number, score_scale?: string}} estate
 * @property {{name: string, language?: string} | null} crew
 * @property {string[]} crews
 * @property {Order[]} orders
 * @property {WeighList[]} [weighings]
 * @property {LookList[]} [reviews]
 * @property {string[]} texts
 * @property {string[]} cautions
 *
 * @typedef {object} KeptBundle
 * @property {string} crew asked for
 * @property {string} etag
 * @property {number} at when the server last said so, ms by this phone
 * @property {Bundle} bundle
 *
 * @typedef {object} Logged what this phone has recorded
 * @property {string} id
 * @property {FieldEvent} event
 * @property {boolean} sent
 * @property {boolean} covered the bundle knows of it
 * @property {number} kept ms by this phone
 *
 * @typedef {object} Unfinished a mark made with one tap
 * @property {string} id of the event
 * @property {string} mark key of the mark
 * @property {string} order
 * @property {number} row
 * @property {number} vine
 * @property {number} number
 * @property {string} code
 * @property {string} label
 *
 * @typedef {object} Stretch vines to be looked at again, because counting was off
 * @property {number} from
 * @property {number} to
 * @property {number[]} vines
 *
 * @typedef {object} WalkState where a person is in a row
 * @property {string} key
 * @property {number} at number of the vine in front
 * @property {number | null} agreed number of the last agreed point
 * @property {{first: number, last: number, count: number} | null} ask a gap to be agreed on
 * @property {boolean} ended the last vine is done
 * @property {"near" | "far"} start
 * @property {Stretch[]} check
 */

export {};
