package csv

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"courson/geo/vine"
)

// otherNames lists the names of fields in French, Spanish and Portuguese, the
// languages of crews, in the form of names(): lower case, underscores, without
// accents and unit. A word that means two things in two of the languages is left
// out: it is for a person to say which.
func otherNames() map[Field][]string {
	return map[Field][]string{
		Block:        {"parcelle", "code_parcelle", "parcela", "bloque", "cuartel", "bloco", "talhao", "quadra"},
		Row:          {"rang", "no_rang", "ligne", "fila", "no_fila", "hilera", "linea", "linha", "no_linha", "fileira"},
		Vine:         {"cep", "no_cep", "pied", "no_pied", "souche", "cepa", "no_cepa", "planta", "no_planta", "videira", "no_videira", "pe"},
		Tag:          {"etiquette", "id_cep", "id_pied", "etiqueta", "id_cepa", "id_planta", "id_videira"},
		Latitude:     {"latitud"},
		Longitude:    {"longitud"},
		Season:       {"saison", "campagne", "millesime", "temporada", "campana", "safra", "campanha", "epoca"},
		Status:       {"etat", "statut", "estado", "situacao", "condicion", "condicao"},
		Cause:        {"motif", "causa", "motivo"},
		Planted:      {"plante_en", "annee_plantation", "annee_de_plantation", "plantado", "ano_plantacion", "ano_de_plantacion", "ano_plantacao", "ano_de_plantacao", "ano_plantio"},
		Mother:       {"cep_mere", "pied_mere", "cepa_madre", "planta_madre", "planta_mae", "videira_mae"},
		Severed:      {"sevre", "separado"},
		PlanNodes:    {"yeux", "bourgeons", "charge", "yemas", "carga", "gomos", "gemas", "olhos"},
		PlanCanes:    {"longs_bois", "baguettes", "varas"},
		PlanSpurs:    {"coursons", "cots", "pulgares", "taloes", "esporoes"},
		PrunedOn:     {"taille_le", "date_taille", "date_de_taille", "podado_el", "fecha_poda", "fecha_de_poda", "podado_em", "data_poda", "data_da_poda"},
		PrunedBy:     {"taille_par", "tailleur", "podado_por", "podador"},
		Note:         {"remarque", "remarques", "commentaire", "observation", "observations", "nota", "notas", "observaciones", "observacion", "comentario", "observacoes", "observacao"},
		RecordedOn:   {"jour", "mesure_le", "fecha", "medido_el", "dia", "data", "medido_em"},
		RecordedBy:   {"mesure_par", "observateur", "medido_por", "observador"},
		Name:         {"nom", "nombre", "nome"},
		Variety:      {"cepage", "variete", "variedad", "casta", "variedade"},
		Clone:        {"clon"},
		Rootstock:    {"porte_greffe", "portainjerto", "patron", "porta_enxerto"},
		System:       {"systeme", "mode_de_conduite", "conduite", "taille", "sistema", "conduccion", "sistema_de_conduccion", "conducao", "sistema_de_conducao"},
		RowSpacing:   {"ecartement", "inter_rang", "distance_inter_rang", "entre_rangs", "distancia_entre_filas", "entre_filas", "marco_filas", "entrelinha", "distancia_entre_linhas"},
		VineSpacing:  {"inter_cep", "distance_inter_cep", "entre_ceps", "distancia_entre_cepas", "entre_cepas", "distancia_entre_plantas", "entre_plantas", "compasso"},
		NumberingEnd: {"debut_numerotation", "inicio_numeracion", "inicio_numeracao"},
		Offset:       {"decalage", "desplazamiento", "deslocamento"},
		Vines:        {"ceps", "pieds", "nombre_de_ceps", "cepas", "plantas", "numero_de_cepas", "videiras", "numero_de_videiras"},

		Measure(vine.PruningWeight): {"bois_de_taille", "poids_bois_de_taille", "poids_de_taille", "poids_bois", "poids_des_bois", "madera_de_poda", "peso_de_poda", "peso_poda", "lenha_de_poda", "peso_da_poda", "peso_lenha"},
		Measure(vine.CaneCount):     {"nombre_de_sarments", "sarments", "numero_de_sarmientos", "sarmientos", "numero_de_sarmentos", "sarmentos"},
		Measure(vine.CaneDiameter):  {"diametre_sarment", "diametre_des_sarments", "diametro_sarmiento", "diametro_de_sarmiento", "diametro_sarmento", "diametro_do_sarmento"},
		Measure(vine.ShootLength):   {"longueur_rameau", "longueur_des_rameaux", "longitud_brote", "longitud_de_brote", "comprimento_rebento", "comprimento_do_ramo"},
		Measure(vine.TrunkGirth):    {"circonference_tronc", "circonference_du_tronc", "perimetro_tronco", "perimetro_del_tronco", "perimetro_do_tronco"},
		Measure(vine.VisualScore):   {"vigueur", "note_de_vigueur"},
		Measure(vine.Yield):         {"recolte", "rendement", "poids_de_recolte", "rendimiento", "peso_de_cosecha", "rendimento", "producao", "produccion"},
	}
}

// plainLetters takes the accents off.
func plainLetters(s string) string {
	plain := true
	for i := range len(s) {
		plain = plain && s[i] < 0x80
	}
	if plain {
		return s
	}
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(s))
}

// RowWords are the words that stand before the label of a row in the names that
// people give to lines: "row 4", "rang 4".
func RowWords() []string {
	return []string{"row", "rang", "ligne", "fila", "hilera", "linea", "linha", "fileira"}
}
