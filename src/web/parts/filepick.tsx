interface Props {
  id: string;
  label: string;
  hint: string;
  accept: string;
  multiple?: boolean;
  open(files: readonly File[]): Promise<void>;
}

/** A drop target that is also an ordinary file button for the keyboard. */
export function FilePick({ id, label, hint, accept, multiple = false, open }: Props) {
  return (
    <div class="filepick noprint">
      <label class="button" for={id}>
        {label}
      </label>
      <input
        id={id}
        type="file"
        accept={accept}
        multiple={multiple}
        aria-describedby={`${id}-hint`}
        onChange={(e) => {
          const input = e.currentTarget;
          const files = [...(input.files ?? [])];
          // Cleared, so that the same file can be opened again after a repair on disk.
          input.value = '';
          if (files.length > 0) void open(files);
        }}
      />
      <p id={`${id}-hint`}>{hint}</p>
    </div>
  );
}
