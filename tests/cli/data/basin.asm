; Garden basin: counts in times how often the float switch has closed. The lamp is lit while it is closed.
        cpu     mc6800
PORTA   equ     $4000           ; bit 0: low when the basin is full
PORTB   equ     $4002           ; bit 7: low for a lit lamp

        org     $0000
times:  rmb     1
last:   rmb     1               ; what bit 0 was

        org     $F800
start:  lds     #$007F
        ldaa    #$80
        staa    PORTB           ; directions: the lamp is an output
        ldaa    #$04
        staa    PORTA+1         ; ports selected
        staa    PORTB+1
        clra
        staa    times
        inca
        staa    last
again:  ldaa    PORTA
        anda    #1
        cmpa    last
        beq     again
        staa    last
        bsr     change
        bra     again

; The switch has moved; A is its bit.
change: tsta
        bne     open
        inc     times
        clrb
        stab    PORTB
        rts
open:   ldab    #$80
        stab    PORTB
        rts

        org     $FFF8
        fdb     start, start, start, start
