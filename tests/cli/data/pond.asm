; Counts three strokes of the pond pump and shows them on port A.
        cpu     mc6800
PORTA   equ     $4000
CRA     equ     $4001
strokes equ     $0010

        org     $F800
start   lds     #$007F
        ldaa    #$FF
        staa    PORTA           ; all outputs
        ldaa    #$04
        staa    CRA
        clr     strokes
        ldab    #3
next    bsr     stroke
        decb
        bne     next
        swi
rest    bra     rest

; One stroke.
stroke  inc     strokes
        ldaa    strokes
        staa    PORTA
        beq     spare
        rts
spare   jmp     rest

noted   rti

        org     $FFF8
        fdb     rest,noted,rest,start
