// Ours: as much of the library's types as the pages use.
export interface Code {
	addData(data: string): void;
	make(): void;
	getModuleCount(): number;
	isDark(row: number, column: number): boolean;
}
/** type 0: as large as the data needs */
export declare const qrcode: (type: number, correction: "L" | "M" | "Q" | "H") => Code;
