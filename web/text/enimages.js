// The texts of images that lie under the rows of the map.

/** @type {import("../lib/text.js").Table} */
export const enImages = {
	"image.label": "Image under the rows",
	"image.none": "none",
	"image.name": "{index}, {day}, {sensor}",
	"image.name_short": "{index}, {day}",
	"image.bare": "The image alone, without rows and vines",
	"image.classes": "What the colours of the image mean",
	"image.pixel": "{source}, pixels of {size}, values from {least} to {most}.",
	"image.areas": "A pixel is wider than a row: the image tells areas apart, not rows or vines.",
	"image.coarser": "It is drawn from means, in pixels of {size}.",
	"image.shared": "All images of {index} have these colours.",
	"image.gone": "This image is not kept any more.",
	"image.failed": "The list of images could not be read.",
	"image.again": "Try again",
	"image.remove": "Take this image off the map",
	"image.remove_what": "The picture made from {file} goes from the map, for everyone; to have it back, import the file again. The values that vines have from it stay in their records, and so does all that was worked out from them. To take those back too, take its import back.",
	"image.remove_yes": "Take it off",
	"image.removing": "Taking it off …",
	"image.remove_no": "Keep it",
	"image.remove_failed": "It was not taken off: {why}.",
};
