"""Spanish and French words in the names of objects, materials and groups, as the English ones the rest of the core reads.

Spellings: common practice, no source. Left out is what is a name or another thing as well: "cara", "capa", "pie", "main".
"""

ENGLISH = {
    "cabeza": "head", "rostro": "face", "cuello": "neck", "mandibula": "jaw", "barbilla": "chin", "ojo": "eye", "ojos": "eyes",
    "ceja": "eyebrow", "cejas": "eyebrows", "pestanas": "eyelashes", "boca": "mouth", "nariz": "nose", "lengua": "tongue", "dientes": "teeth",
    "pelo": "hair", "cabello": "hair", "cabellos": "hair", "flequillo": "fringe", "coleta": "ponytail", "trenza": "braid", "trenzas": "braids",
    "oreja": "ear", "orejas": "ears", "cuerno": "horn", "cuernos": "horns", "cola": "tail", "alas": "wings", "melena": "mane",
    "sombrero": "hat", "gorro": "cap", "gorra": "cap", "casco": "helmet", "capucha": "hood", "diadema": "headband", "lazo": "bow",
    "barba": "beard", "perilla": "goatee", "mochila": "backpack", "espada": "sword", "escudo": "shield", "peana": "plinth",
    "pierna": "leg", "piernas": "legs", "rodilla": "knee", "tobillo": "ankle", "bota": "boot", "botas": "boots", "zapato": "shoe", "zapatos": "shoes",
    "tete": "head", "visage": "face", "cou": "neck", "machoire": "jaw", "menton": "chin", "oeil": "eye", "yeux": "eyes",
    "sourcil": "eyebrow", "sourcils": "eyebrows", "cils": "eyelashes", "bouche": "mouth", "nez": "nose", "langue": "tongue", "dents": "teeth",
    "cheveux": "hair", "frange": "fringe", "tresse": "braid", "tresses": "braids", "chignon": "bun", "oreille": "ear", "oreilles": "ears",
    "corne": "horn", "cornes": "horns", "queue": "tail", "ailes": "wings", "criniere": "mane", "chapeau": "hat", "casquette": "cap",
    "casque": "helmet", "capuche": "hood", "couronne": "crown", "noeud": "bow", "barbe": "beard", "bouclier": "shield", "epee": "sword",
    "socle": "plinth", "jambe": "leg", "jambes": "legs", "genou": "knee", "cheville": "ankle", "pied": "foot", "pieds": "feet",
    "botte": "boot", "bottes": "boots", "chaussure": "shoe", "chaussures": "shoes",
}
