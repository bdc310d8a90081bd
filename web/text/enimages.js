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
};
